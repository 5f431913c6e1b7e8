"""The rows of every exported table, some at a time so that memory stays bounded by one build."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence

from qa import data_dictionary as rows
from qa.characteristics import kinds
from qa.checking import check
from qa.drift import series
from qa.errors import QaError, ShopError
from qa.planned import Part, unknown
from qa.record import BenchReading, standing
from qa.shop import Shop
from qa.store import Build, Store

Rows = Iterator[Sequence[object]]


def table(what: str, shop: Shop, store: Store, build: str | None = None) -> Rows:
    """The rows of one of `data_dictionary.TABLES`, some at a time; of one build, or of all.

    QaError where there is no such table, ShopError where the build is not known.
    """
    if what not in _MAKERS:
        raise QaError(unknown("table", what, _MAKERS))
    builds = store.builds()
    if build is not None and build not in builds:
        raise ShopError(unknown("build", build, builds))
    chosen = {build: builds[build]} if build is not None else builds
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


def _verdicts(shop: Shop, store: Store, builds: Mapping[str, Build]) -> Rows:
    for name in builds:
        for judged in check(shop, store, name):
            yield [
                rows.Verdict(
                    name, judged.model, part.part, item.characteristic, item.station or "", item.kind,
                    item.value, item.unit, item.target, item.lower, item.upper, item.deviation,
                    item.standard_uncertainty, item.conformance_probability, str(item.verdict),
                    item.taken_at or "", item.why, judged.plan,
                )
                for part in judged.parts
                for item in part.characteristics
            ]  # fmt: skip


def _drift(shop: Shop, store: Store, builds: Mapping[str, Build]) -> Rows:
    parts = {
        name: part for plans in shop.plans.values() for plan in plans for name, part in plan.parts.items()
    }
    for part in parts.values():
        for characteristic, station in _series_of(part):
            points = series(shop, store, part.name, characteristic, station)
            yield [
                rows.Drift(
                    part.name, characteristic, station or "", place, point.build,
                    point.judged.taken_at or "", point.judged.value, point.judged.unit, point.judged.target,
                    point.judged.deviation, point.judged.standard_uncertainty, str(point.judged.verdict),
                    point.instrument, point.bench, point.machine, point.rh_percent,
                )
                for place, point in enumerate(points, 1)
                if point.build in builds and point.judged.value is not None
            ]  # fmt: skip


def _series_of(part: Part) -> Iterator[tuple[str, str | None]]:
    for item in part.characteristics.values():
        alone = kinds()[item.kind].each_station
        stations: list[str | None] = (
            [station.name for station in part.stations(item) if station.name] if alone else []
        )
        for station in [*stations, *item.overall] or [None]:
            yield item.name, station


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
    "verdicts": _verdicts,
    "drift": _drift,
    "events": _events,
    "dictionary": _dictionary,
}
