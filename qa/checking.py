"""Verdicts on what the store holds, by the plan revision each build was begun under."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from qa.bench.planing import last_planed, outlived
from qa.calipers.in_shop import instruments_of
from qa.conformity import Verdict
from qa.errors import CannotSay, ShopError
from qa.gate.movement import Moved, movements
from qa.judge import InstrumentOf, Judged, JudgedBuild, JudgedPart, judge_build, latest_by_station
from qa.plans.plan import Plan, unknown
from qa.plans.revisions import Revisions, otherwise_words
from qa.record import BenchReading, standing
from qa.shop import Shop
from qa.store.store import Store


def plan_of(shop: Shop, store: Store, build: str, model: str | None = None) -> Plan:
    """The plan revision a build is judged by; a build not begun takes the model named, or the only one.

    ShopError where the build was begun as another model than the one named, or cannot be a build's name.
    """
    if not build or build != build.strip() or not build.isprintable():
        raise ShopError(f"{build!r} cannot be the name of a build: write it in letters, digits and signs")
    known = store.build(build)
    if known is None:
        return shop.plan(shop.model(model), dt.datetime.now(dt.UTC).date())
    if model and shop.model(model) != known.model:
        raise ShopError(f"build {build} was begun as {known.model!r}, not {model!r}; use another build name")
    return shop.plan(known.model, known.begun)


@dataclass(frozen=True, slots=True)
class Checked:
    """The verdicts on builds in the order asked for, and of those that cannot be judged, why (build, why)."""

    builds: Sequence[JudgedBuild]
    problems: Sequence[tuple[str, str]] = ()


def checking(shop: Shop, store: Store, builds: Iterable[str]) -> Iterator[tuple[str, JudgedBuild | str]]:
    """Each of those builds with its verdicts, or why it cannot be judged; one at a time is held."""
    instrument_of, revisions = instruments_of(shop, store), Revisions.kept(store.plan_text)
    for name in builds:
        try:
            yield name, _check_build(shop, store, name, instrument_of, revisions)
        except ShopError as error:
            yield name, str(error)


def check_each(
    shop: Shop, store: Store, builds: Sequence[str] | None = None, part: str | None = None
) -> Checked:
    """The verdicts on those builds, or on all from the oldest on; on one part or on all.

    A build whose plan is gone keeps no other from being judged. ShopError names the near ones where none of
    them has that part.
    """
    judged: list[JudgedBuild] = []
    problems: list[tuple[str, str]] = []
    for name, found in checking(shop, store, store.builds() if builds is None else builds):
        if isinstance(found, str):
            problems.append((name, found))
        else:
            judged.append(found)
    if part is not None and judged:
        judged = _of_part(judged, part)
    return Checked(tuple(judged), tuple(problems))


def _of_part(judged: Sequence[JudgedBuild], part: str) -> list[JudgedBuild]:
    known = {item.part for one in judged for item in one.parts}
    if part not in known:
        raise ShopError(unknown("part", part, known))
    return [replace(one, parts=tuple(p for p in one.parts if p.part == part)) for one in judged]


def check(shop: Shop, store: Store, build: str | None = None, part: str | None = None) -> list[JudgedBuild]:
    """As `check_each` of one build or of all, for who needs every one of them judged.

    ShopError where one cannot be, and with the near ones where a build or part is not known.
    """
    if build is not None and store.build(build) is None:
        raise ShopError(unknown("build", build, list(store.builds())))
    found = check_each(shop, store, None if build is None else [build], part)
    for name, why in found.problems:
        raise ShopError(f"{name} cannot be judged: {why}")
    return list(found.builds)


@dataclass(frozen=True, slots=True)
class Air:
    """What the room's air says of one part's readings, by (characteristic, station).

    `moved` is what each will be at the reference climate; `rh_percent` the humidity at each reading.
    """

    moved: Mapping[tuple[str, str], Moved]
    rh_percent: Mapping[tuple[str, str], float | None]


def air(shop: Shop, store: Store, build: str) -> dict[str, Air]:
    """What the room's air says of a build's readings, by part."""
    plan, known = plan_of(shop, store, build), shop.species()
    rows = standing(holding(store, build, plan))
    found = {}
    for name, part in plan.parts.items():
        latest = latest_by_station([row for row in rows if row.part == name])
        try:
            moved = movements(part, latest, plan.reference, known=known)
        except CannotSay:
            moved = []
        found[name] = Air(
            {(item.characteristic, item.station): item for item in moved},
            {place: row.rh_percent for place, row in latest.items()},
        )
    return found


def _check_build(
    shop: Shop, store: Store, build: str, instrument_of: InstrumentOf, revisions: Revisions
) -> JudgedBuild:
    plan, rows = plan_of(shop, store, build), store.readings(build)
    asked = revisions.asked_now(rows, plan)
    found = judge_build(build, plan, _unplaned(store, build, plan, asked), instrument_of)
    if len(asked) == len(rows):
        return found
    odd = [row for row in standing(rows) if revisions.otherwise(row, plan)]
    by_place = {(row.part, row.characteristic, row.station): row for row in odd}
    return replace(found, parts=tuple(_told(part, plan, by_place) for part in found.parts))


def _told(part: JudgedPart, plan: Plan, odd: Mapping[tuple[str, str, str], BenchReading]) -> JudgedPart:
    """The verdicts, of what is not measured with the revision that asked for its reading otherwise."""
    planned = plan.parts[part.part]

    def told(item: Judged) -> Judged:
        if item.verdict != Verdict.NOT_MEASURED:
            return item
        source = planned.source(planned.characteristics[item.characteristic])
        names = [s.name for s in source.stations if item.station in (None, s.name)]
        found = [odd[key] for name in names if (key := (part.part, source.name, name)) in odd]
        return replace(item, why=otherwise_words(found[0].plan)) if found else item

    return replace(part, characteristics=tuple(map(told, part.characteristics)))


def holding(store: Store, build: str, plan: Plan) -> list[BenchReading]:
    """A build's readings of what its plan asks now, but for those that a later pass of planing made void."""
    asked = Revisions.kept(store.plan_text).asked_now(store.readings(build), plan)
    return _unplaned(store, build, plan, asked)


def _unplaned(store: Store, build: str, plan: Plan, rows: list[BenchReading]) -> list[BenchReading]:
    planed = store.events(build=build)
    times = {name: last_planed(planed, name) for name in plan.parts}
    void = {id(row) for name, part in plan.parts.items() if times[name]
            for row in outlived(part, (row for row in rows if row.part == name), times[name])}  # fmt: skip
    return [row for row in rows if id(row) not in void]
