"""The rows of every exported table, some at a time so that memory stays bounded by one build."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence

from qa.checking import checking, holding, plan_of
from qa.errors import QaError, ShopError
from qa.export import data_dictionary as rows
from qa.judge import Judged, JudgedBuild
from qa.plans.planned import Part, unknown
from qa.record import BenchReading, standing
from qa.shop import Shop
from qa.store.store import Build, Store

Rows = Iterator[Sequence[object]]


LeftOut = list[tuple[str, str]]
"""Builds that cannot be judged, and why."""


def table(
    what: str, shop: Shop, store: Store, build: str | None = None, left_out: LeftOut | None = None
) -> Rows:
    """The rows of one of `data_dictionary.TABLES`, some at a time; of one build, or of all.

    While they are taken, `left_out` is told which builds are not among the verdicts or series, and why.
    QaError where there is no such table, ShopError where the build is not known, or where it cannot be judged
    and is asked for alone, or nobody is told.
    """
    if what not in rows.TABLES:
        raise QaError(unknown("table", what, rows.TABLES))
    builds = store.builds()
    if build is not None and build not in builds:
        raise ShopError(unknown("build", build, builds))
    chosen = {build: builds[build]} if build is not None else builds
    if what in _JUDGED:
        return _JUDGED[what](shop, store, chosen, left_out if build is None else None)
    return _MAKERS[what](shop, store, chosen)


def _readings(shop: Shop, store: Store, builds: Mapping[str, Build]) -> Rows:
    for name, build in builds.items():
        yield [_reading(row, build.model) for row in standing(store.readings(name))]


def _reading(row: BenchReading, model: str) -> rows.Reading:
    return rows.Reading(
        row.taken_at, row.build, row.part, row.characteristic, row.station, row.value, row.unit,
        row.instrument, row.bench, row.machine, row.rh_percent, row.temp_c, row.note, model, row.as_entered,
        row.suspect, row.why, row.plan, row.sequence,
    )  # fmt: skip


def _record(shop: Shop, store: Store, builds: Mapping[str, Build]) -> Rows:
    for name, build in builds.items():
        found = store.readings(name)
        counting = {row.sequence for row in standing(found)}
        yield [_kept(row, build.model, row.sequence in counting) for row in found]


def _kept(row: BenchReading, model: str, counts: bool) -> rows.Kept:
    return rows.Kept(
        row.sequence, row.taken_at, row.build, model, row.part, row.characteristic, row.station,
        None if row.millionths is None else row.value, row.unit, row.as_entered, row.instrument, row.bench,
        row.machine, row.rh_percent, row.temp_c, row.note, counts, row.suspect, row.held, row.corrects,
        row.why, row.plan,
    )  # fmt: skip


def _judged(
    shop: Shop, store: Store, builds: Mapping[str, Build], left_out: LeftOut | None
) -> Iterator[JudgedBuild]:
    """The verdicts on those builds that can be judged, one build at a time."""
    for name, found in checking(shop, store, builds):
        if not isinstance(found, str):
            yield found
        elif left_out is None:
            raise ShopError(f"{name} cannot be judged: {found}")
        else:
            left_out.append((name, found))


def _verdicts(shop: Shop, store: Store, builds: Mapping[str, Build], left_out: LeftOut | None) -> Rows:
    for judged in _judged(shop, store, builds, left_out):
        yield [
            rows.Verdict(
                judged.build, judged.model, part.part, item.characteristic, item.station or "", item.kind,
                clean(item.value), item.unit, item.target, item.lower, item.upper,
                clean(item.deviation), clean(item.standard_uncertainty), item.conformance_probability,
                str(item.verdict), item.taken_at or "", item.why, judged.plan, item.in_doubt, _off(item),
            )
            for part in judged.parts
            for item in part.characteristics
        ]  # fmt: skip


def _drift(shop: Shop, store: Store, builds: Mapping[str, Build], left_out: LeftOut | None) -> Rows:
    """Every series of all the builds chosen, so this one table is held whole."""
    found: dict[tuple[str, str, str], list[rows.Drift]] = {}
    for judged in _judged(shop, store, builds, left_out):
        name, plan = judged.build, plan_of(shop, store, judged.build)
        taken = standing(holding(store, name, plan))
        for part in judged.parts:
            own = [row for row in taken if row.part == part.part]
            for item in part.characteristics:
                if item.value is not None:
                    points = found.setdefault((part.part, item.characteristic, item.station or ""), [])
                    points.append(_point(plan.parts[part.part], item, own, name, len(points) + 1))
    yield from found.values()


def _point(part: Part, item: Judged, taken: Sequence[BenchReading], build: str, place: int) -> rows.Drift:
    """One build of a series, with the circumstances of the last reading behind it."""
    source = part.source(part.characteristics[item.characteristic])
    alone = item.station in {station.name for station in source.stations}
    behind = [
        row for row in taken
        if row.characteristic == source.name and (not alone or row.station == item.station)
    ]  # fmt: skip
    last = max(behind, key=lambda row: (row.taken_at, row.sequence))
    return rows.Drift(
        part.name, item.characteristic, item.station or "", place, build, item.taken_at or "",
        clean(item.value) or 0.0, item.unit, item.target, clean(item.deviation),
        clean(item.standard_uncertainty), str(item.verdict), last.instrument, last.bench, last.machine,
        last.rh_percent, item.in_doubt, _off(item),
    )  # fmt: skip


def _off(item: Judged) -> float | None:
    return clean(item.off) if item.in_doubt else None


def clean(value: float | None) -> float | None:
    """A computed value without the dust of binary fractions: to a picometre, of a length."""
    return None if value is None else round(value, 9) + 0.0


def _events(shop: Shop, store: Store, builds: Mapping[str, Build]) -> Rows:
    whole = len(builds) == len(store.builds())
    yield [
        rows.Event(
            item.sequence, item.at, item.kind, item.build, item.part, item.characteristic, item.station,
            item.instrument, item.text, item.by, json.dumps(item.body, ensure_ascii=False, sort_keys=True),
        )
        for item in store.events()
        if whole or item.build in builds
    ]  # fmt: skip


def _dictionary(shop: Shop, store: Store, builds: Mapping[str, Build]) -> Rows:
    yield rows.dictionary()


_MAKERS: dict[str, Callable[[Shop, Store, Mapping[str, Build]], Rows]] = {
    "readings": _readings,
    "record": _record,
    "events": _events,
    "dictionary": _dictionary,
}
_JUDGED: dict[str, Callable[[Shop, Store, Mapping[str, Build], LeftOut | None], Rows]] = {
    "verdicts": _verdicts,
    "drift": _drift,
}
