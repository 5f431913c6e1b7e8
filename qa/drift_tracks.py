"""From the store to the series worth charting: one mean a size, every planned shape, and differences.

Differences come first where it matters which is at fault: a taper, left less right and what moved before
glue hold no zero offset of the caliper.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic, Station, Value
from qa.drift import series
from qa.drift_track import MEAN, MOVED, Made, Track, of_points, own_uncertainty, slipped
from qa.drift_visits import Latest, visits
from qa.errors import CannotSay, ShopError
from qa.movement import direction_of
from qa.plan import Part, Plan, unknown
from qa.record import BenchReading
from qa.shop import Shop
from qa.store import Store
from qa.wood import Species, coefficient, equilibrium_moisture, species

ENOUGH = 0.7  # of a size's stations: fewer are not a mean that compares with the other builds'
PAIRS = (("left", "right"), ("treble", "bass"))


@dataclass(frozen=True, slots=True)
class _Bench:
    """One build's part as it was measured, with the plan it was made to."""

    build: str
    plan: Plan
    part: Part
    made: Latest
    later: Latest


Key = tuple[str, str, str | None]


def tracks(
    shop: Shop,
    store: Store,
    part: str | None = None,
    characteristic: str | None = None,
    station: str | None = None,
) -> list[Track]:
    """Every series of the shop, of one part or characteristic; one station or view of it where named.

    Oldest build first. ShopError names the near ones where one asked for is not known.
    """
    if station and not (part and characteristic):
        raise ShopError("a station is of one characteristic of one part: say --part and --characteristic too")
    if part and characteristic and station and station not in (MEAN, MOVED) and " less " not in station:
        points = series(shop, store, part, characteristic, station)
        return [of_points(part, characteristic, station, points, shop.instruments)]
    parts = list(dict.fromkeys(name for plan in _plans(shop) for name in plan.parts))
    if part is not None and part not in parts:
        raise ShopError(unknown("part", part, parts))
    found = [track for name in ([part] if part else parts) for track in _of_part(shop, store, name)]
    if part is None:
        found += _pairs(found)
    return _asked(found, part, characteristic, station)


def _asked(
    found: list[Track], part: str | None, characteristic: str | None, station: str | None
) -> list[Track]:
    if characteristic is not None:
        known = list(dict.fromkeys(track.characteristic for track in found))
        found = [track for track in found if track.characteristic == characteristic]
        if not found:
            whose = f"characteristic of {part or 'any part'} with readings"
            raise ShopError(unknown(whose, characteristic, known))
    if station is not None:
        known = [track.station or "" for track in found]
        found = [track for track in found if track.station == station]
        if not found:
            raise ShopError(unknown(f"series of {part} {characteristic}", station, known))
    return found


def _plans(shop: Shop) -> list[Plan]:
    return [plan for revisions in shop.plans.values() for plan in reversed(revisions)]


def _of_part(shop: Shop, store: Store, part: str) -> list[Track]:
    by_build: dict[str, list[BenchReading]] = defaultdict(list)
    for row in store.readings(part=part):
        by_build[row.build].append(row)
    known = shop.species()
    made: dict[Key, list[Made]] = defaultdict(list)
    said: dict[Key, tuple[str, bool, bool]] = {}
    left_out: dict[Key, list[str]] = defaultdict(list)
    for build in store.builds(by_build).values():
        plan = shop.plan(build.model, build.begun)
        if part not in plan.parts:
            continue
        taken = visits(by_build[build.name])
        bench = _Bench(build.name, plan, plan.parts[part], taken.made, taken.later)
        for item in bench.part.characteristics.values():
            for key, about, one in _views(shop, bench, item, known):
                said[key] = about
                if isinstance(one, str):
                    left_out[key].append(one)
                else:
                    made[key].append(one)
    return [
        Track(*key, *said[key], tuple(made[key]), tuple(left_out[key]))
        for key in sorted(said, key=lambda key: (not said[key][2], list(said).index(key)))
    ]


View = tuple[Key, tuple[str, bool, bool], "Made | str"]


def _views(shop: Shop, bench: _Bench, item: Characteristic, known: Mapping[str, Species]) -> Iterator[View]:
    """What a characteristic of one build adds: its series, (unit, absolute, primary), and the point."""
    kind = kinds()[item.kind]
    source = item.of or item.name
    stations = bench.part.stations(item)
    rows = {s.name: bench.made[source, s.name] for s in stations if (source, s.name) in bench.made}
    if not rows or (not kind.each_station and len(rows) < len(stations)):
        return
    try:
        values = kind.evaluate(item, stations, {name: row.value for name, row in rows.items()})
    except CannotSay:
        return
    told = [value for value in values if isinstance(value, Value)]
    whole = [value for value in told if value.station is None or value.station in item.overall]
    for value in whole:
        key = (bench.part.name, item.name, value.station)
        one = _made(shop, bench, item, rows, value.value, list(value.sensitivities.values()), value.station)
        yield key, (item.unit, False, True), one
    yield from _of_stations(shop, bench, item, rows, [value for value in told if value not in whole], known)


def _of_stations(
    shop: Shop,
    bench: _Bench,
    item: Characteristic,
    rows: Mapping[str, BenchReading],
    values: Sequence[Value],
    known: Mapping[str, Species],
) -> Iterator[View]:
    stations = bench.part.stations(item)
    read = {value.station or "": value.value for value in values}
    sized = kinds()[item.kind].sized
    if not read:
        return
    target = None if item.target is None else item.target / MILLION
    wrong = [told for value in read.values() if sized and (told := slipped(bench.build, value, target))]
    key = (bench.part.name, item.name, MEAN if len(stations) > 1 else None)
    if wrong:
        yield key, (item.unit, sized, True), wrong[0]
        return
    grows = _movement(bench, item, known)
    if len(read) >= ENOUGH * len(stations):
        one = _made(shop, bench, item, rows, float(np.mean(list(read.values()))), [1 / len(read)] * len(read))
        settled = _settled(bench, grows, [row.rh_percent for row in rows.values()])
        yield key, (item.unit, sized, True), replace(one, settled=settled)
    if sized:
        yield from _differences(shop, bench, item, rows, read)
        yield from _moved(shop, bench, item, rows, grows)


def _made(
    shop: Shop,
    bench: _Bench,
    item: Characteristic,
    rows: Mapping[str, BenchReading],
    value: float,
    weights: Sequence[float],
    station: str | None = None,
) -> Made:
    last = max(rows.values(), key=lambda row: (row.taken_at, row.sequence))
    limits = item.limits(station)
    zero = (limits.target or 0) / MILLION
    lower, upper = (None if n is None else n / MILLION - zero for n in (limits.lower, limits.upper))
    u = own_uncertainty(shop.instrument_or_typed(last.instrument), weights)
    rh = [row.rh_percent for row in rows.values() if row.rh_percent is not None]
    return Made(
        bench.build, value - zero, u, lower, upper, last.instrument, last.bench, last.machine,
        float(np.mean(rh)) if rh else None, bench.plan.model, last.taken_at,
    )  # fmt: skip


def _differences(
    shop: Shop,
    bench: _Bench,
    item: Characteristic,
    rows: Mapping[str, BenchReading],
    read: Mapping[str, float],
) -> Iterator[View]:
    """One end less the other, along y (where no taper is planned) and across x."""
    stations = [station for station in bench.part.stations(item) if station.name in read]
    tapers = any(
        other.kind == "taper" and other.of == item.name for other in bench.part.characteristics.values()
    )
    across: Callable[[Station], float] = lambda s: -s.x  # noqa: E731 - a pair of one-word keys
    along_y: Callable[[Station], float] = lambda s: s.y  # noqa: E731
    for along, wanted in ((across, True), (along_y, not tapers)):
        ends = [[s.name for s in stations if along(s) == edge] for edge in _extremes(map(along, stations))]
        if not wanted or len(ends) < 2:
            continue
        high, low = ends
        value = float(np.mean([read[n] for n in high]) - np.mean([read[n] for n in low]))
        weights = [1 / len(high)] * len(high) + [1 / len(low)] * len(low)
        one = _made(shop, bench, item, rows, value, weights)
        one = replace(one, deviation=value, lower=None, upper=None)
        key = (bench.part.name, item.name, f"{_shared(high)} less {_shared(low)}")
        yield key, (item.unit, False, False), one


def _extremes(places: Iterator[float]) -> list[float]:
    found = sorted(set(places))
    return [found[-1], found[0]] if len(found) > 1 else []


def _shared(names: Sequence[str]) -> str:
    """The words the names of an end share: "top" of top-left and top-right."""
    words = [name.split("-") for name in names]
    common = [word for word in words[0] if all(word in other for other in words[1:])]
    return " ".join(common) or names[0]


def _moved(
    shop: Shop, bench: _Bench, item: Characteristic, rows: Mapping[str, BenchReading], grows: float
) -> Iterator[View]:
    """How far the same stations moved until they were read again, by the same caliper."""
    later = {s: bench.later[item.name, s] for s in rows if (item.name, s) in bench.later}
    both = {s: row for s, row in later.items() if row.instrument == rows[s].instrument}
    if not both:
        return
    value = float(np.mean([row.value - rows[s].value for s, row in both.items()]))
    one = _made(shop, bench, item, both, value, [1 / len(both)] * 2 * len(both))
    then = _settled(bench, grows, [row.rh_percent for row in both.values()])
    before = _settled(bench, grows, [rows[s].rh_percent for s in both])
    settled = None if then is None or before is None else then - before
    one = replace(one, deviation=value, lower=None, upper=None, settled=settled)
    yield (bench.part.name, item.name, MOVED), (item.unit, False, True), one


def _movement(bench: _Bench, item: Characteristic, known: Mapping[str, Species]) -> float:
    """How far (mm) the size moves per 1 % of moisture content; 0 where the plan does not say."""
    way = direction_of(bench.part, item)
    if way is None or not bench.part.species or not item.target:
        return 0.0
    try:
        return item.target / MILLION * coefficient(species(bench.part.species, known), way)
    except CannotSay:
        return 0.0


def _settled(bench: _Bench, grows: float, humidities: Sequence[float | None]) -> float | None:
    rh = [value for value in humidities if value is not None and 0 < value < 100]
    if not rh:
        return None
    reference = bench.plan.reference
    there = equilibrium_moisture(float(np.mean(rh)), reference.temp_c)
    return grows * (there - equilibrium_moisture(reference.rh_percent, reference.temp_c))


def _pairs(found: Sequence[Track]) -> list[Track]:
    """Left less right of parts that come as a pair, build by build."""
    by_key = {(track.part, track.characteristic, track.station): track for track in found}
    pairs = []
    for track in found:
        for left, right in PAIRS:
            other = by_key.get((track.part.replace(left, right), track.characteristic, track.station))
            if left in track.part and other is not None and track.station in (MEAN, None):
                pairs.append(_less(track, other, f"{left} less {right}"))
    return pairs


def _less(track: Track, other: Track, says: str) -> Track:
    theirs = {one.build: one for one in other.made}
    made = tuple(
        replace(
            one,
            deviation=one.deviation - theirs[one.build].deviation,
            u=float(np.hypot(one.u, theirs[one.build].u)),
            lower=None,
            upper=None,
            settled=None,
        )
        for one in track.made
        if one.build in theirs
    )
    return Track(track.part, track.characteristic, says, track.unit, False, True, made)
