"""Verdicts on what the store holds, by the plan revision each build was begun under."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from qa.bench.planing import last_planed, outlived
from qa.calipers.in_shop import instruments_of
from qa.errors import CannotSay, ShopError
from qa.gate.movement import Moved, movements
from qa.judge import InstrumentOf, JudgedBuild, judge_build, latest_by_station
from qa.plans.plan import Plan, unknown
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


def check_each(
    shop: Shop, store: Store, builds: Sequence[str] | None = None, part: str | None = None
) -> Checked:
    """The verdicts on those builds, or on all from the oldest on; on one part or on all.

    A build whose plan is gone keeps no other from being judged. ShopError names the near ones where none of
    them has that part.
    """
    instrument_of = instruments_of(shop, store)
    judged: list[JudgedBuild] = []
    problems: list[tuple[str, str]] = []
    for name in store.builds() if builds is None else builds:
        try:
            judged.append(_check_build(shop, store, name, instrument_of))
        except ShopError as error:
            problems.append((name, str(error)))
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


def _check_build(shop: Shop, store: Store, build: str, instrument_of: InstrumentOf) -> JudgedBuild:
    plan = plan_of(shop, store, build)
    return judge_build(build, plan, holding(store, build, plan), instrument_of)


def holding(store: Store, build: str, plan: Plan) -> list[BenchReading]:
    """A build's readings but for those that a later pass of planing has made void."""
    rows, planed = store.readings(build), store.events(build=build)
    times = {name: last_planed(planed, name) for name in plan.parts}
    void = {id(row) for name, part in plan.parts.items() if times[name]
            for row in outlived(part, (row for row in rows if row.part == name), times[name])}  # fmt: skip
    return [row for row in rows if id(row) not in void]
