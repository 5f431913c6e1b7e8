"""Builds in order: one characteristic at one station, as a series of deviations from its target."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from qa.calipers.in_shop import instruments_of
from qa.characteristics import kinds
from qa.characteristics.base import Characteristic
from qa.errors import ShopError
from qa.judge import InstrumentOf, Judged, judge_characteristic, latest_by_station
from qa.plans.plan import Part, Plan, unknown
from qa.plans.revisions import Revisions
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
    at = station if _is_alone(planned, station) else None
    rows = store.readings(part=part, characteristic=source, station=at)
    by_build: dict[str, list[BenchReading]] = {}
    for row in rows:
        by_build.setdefault(row.build, []).append(row)
    return _points(shop, store, by_build, part, characteristic, station)


def recent(
    shop: Shop, store: Store, part: str, characteristic: str, station: str | None, builds: Collection[str]
) -> list[Point]:
    """As `series`, of those builds only, at a cost that does not grow with the years."""
    return _points(shop, store, _readings(store, part, builds), part, characteristic, station)


def _readings(store: Store, part: str, builds: Collection[str]) -> dict[str, list[BenchReading]]:
    """The readings of a part of those builds, by build: one query for all of them."""
    import sqlalchemy as sa

    from qa.store.schema import readings as table
    from qa.store.store import COLUMNS

    query = sa.select(*(table.c[name] for name in COLUMNS), table.c.sequence)
    # The plus keeps SQLite from reading the part's every build by its index.
    query = query.where(table.c.build.in_(list(builds)), table.c.part.concat("") == part)
    found: dict[str, list[BenchReading]] = {}
    with store.reading() as connection:
        for row in connection.execute(query.order_by(table.c.sequence)):
            found.setdefault(row.build, []).append(BenchReading(*row))
    return found


def _points(
    shop: Shop,
    store: Store,
    taken: Mapping[str, list[BenchReading]],
    part: str,
    characteristic: str,
    station: str | None,
) -> list[Point]:
    """The points of those builds, by their readings of the part."""
    instrument_of, points = instruments_of(shop, store), []
    revisions = Revisions.kept(store.plan_text)
    for build in store.builds(taken).values():
        plan = shop.plan(build.model, build.begun)
        of_build = plan.parts.get(part)
        if of_build and characteristic in of_build.characteristics:
            rows = revisions.asked_now(taken[build.name], plan)
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
    planned = part.characteristics[characteristic]
    source, alone = planned.of or planned.name, _is_alone(planned, station)
    behind = [row for row in rows if row.characteristic == source and (not alone or row.station == station)]
    latest = latest_by_station(standing(behind))
    if not latest:
        return []
    last = max(latest.values(), key=lambda row: (row.taken_at, row.sequence))
    return [
        Point(build, item, last.instrument, last.bench, last.machine, last.rh_percent)
        for item in judge_characteristic(part, planned, latest, instrument_of)
        if item.station == (station or None) and item.value is not None
    ]


def _is_alone(planned: Characteristic, station: str | None) -> bool:
    """Whether the readings at one station are all that a verdict there needs."""
    return bool(station) and kinds()[planned.kind].each_station and station not in planned.overall


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
