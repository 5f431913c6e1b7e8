"""Builds in order: one characteristic at one station, as a series of deviations from its target."""

from __future__ import annotations

from dataclasses import dataclass

from qa.calipers.in_shop import instruments_of
from qa.characteristics import kinds
from qa.characteristics.base import Characteristic
from qa.errors import ShopError
from qa.judge import InstrumentOf, Judged, judge_characteristic, latest_by_station
from qa.plans.plan import Part, Plan, unknown
from qa.record import BenchReading, standing
from qa.shop import Shop
from qa.store.store import Store


@dataclass(frozen=True, slots=True)
class Point:
    """One build of a series: the verdict, and what was recorded of how it was taken."""

    build: str
    judged: Judged
    instrument: str
    bench: str
    machine: str
    rh_percent: float | None


def series(
    shop: Shop, store: Store, part: str, characteristic: str, station: str | None = None
) -> list[Point]:
    """One point for each build that has been measured there, oldest first.

    `station` is None for a characteristic judged once for the part, or names what is judged of all stations
    together ("range"). ShopError names the near ones where the part, characteristic or station is not known.
    """
    source = _source(shop, part, characteristic, station)
    planned = _planned(shop, part, characteristic)
    alone = kinds()[planned.kind].each_station and station not in planned.overall
    at = station if station and alone else None
    rows = store.readings(part=part, characteristic=source, station=at)
    by_build: dict[str, list[BenchReading]] = {}
    for row in rows:
        by_build.setdefault(row.build, []).append(row)
    points = []
    instrument_of = instruments_of(shop, store)
    for build in store.builds(by_build).values():
        of_build = shop.plan(build.model, build.begun).parts.get(part)
        if of_build and characteristic in of_build.characteristics:
            rows = by_build[build.name]
            points += _point(instrument_of, of_build, characteristic, station, build.name, rows)
    return points


def _point(
    instrument_of: InstrumentOf,
    part: Part,
    characteristic: str,
    station: str | None,
    build: str,
    rows: list[BenchReading],
) -> list[Point]:
    latest = latest_by_station(standing(rows))
    if not latest:
        return []
    found = judge_characteristic(part, part.characteristics[characteristic], latest, instrument_of)
    last = max(latest.values(), key=lambda row: (row.taken_at, row.sequence))
    return [
        Point(build, item, last.instrument, last.bench, last.machine, last.rh_percent)
        for item in found
        if item.station == (station or None) and item.value is not None
    ]


def _plans_with(shop: Shop, part: str) -> list[Plan]:
    plans = [plan for revisions in shop.plans.values() for plan in reversed(revisions)]
    found = [plan for plan in plans if part in plan.parts]
    if not found:
        raise ShopError(unknown("part", part, {name for plan in plans for name in plan.parts}))
    return found


def _planned(shop: Shop, part: str, characteristic: str) -> Characteristic:
    plans = _plans_with(shop, part)
    for plan in plans:
        if characteristic in plan.parts[part].characteristics:
            return plan.parts[part].characteristics[characteristic]
    known = {name for plan in plans for name in plan.parts[part].characteristics}
    raise ShopError(unknown(f"characteristic of {part}", characteristic, sorted(known)))


def _source(shop: Shop, part: str, characteristic: str, station: str | None) -> str:
    planned = _planned(shop, part, characteristic)
    names = [*(s.name for s in planned.stations if s.name), *planned.overall]
    if station and station not in names:
        raise ShopError(unknown(f"station of {part} {characteristic}", station, names))
    if names and kinds()[planned.kind].each_station and not station:
        raise ShopError(
            f"{characteristic} of {part} is judged station by station: say which of {', '.join(names)}"
        )
    return str(planned.of or planned.name)
