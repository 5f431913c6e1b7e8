"""From the store to the series worth charting: one mean a size, every planned shape, and differences.

Differences come first where it matters which is at fault: a taper, left less right and what moved before
glue hold no zero offset of the caliper.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from statistics import fmean

from qa.calipers.in_shop import instruments_of
from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic, Value
from qa.drift.builds import series
from qa.drift.differences import Key, Measured, View, differences, grows_by, made_at, moved, pairs, settled_at
from qa.drift.track import MEAN, Made, Track, is_computed, of_points, slipped
from qa.drift.visits import visits
from qa.errors import CannotSay, ShopError
from qa.instruments import Instrument
from qa.judge import InstrumentOf
from qa.plans.plan import Part, Plan, unknown
from qa.plans.revisions import Revisions, otherwise_words
from qa.record import BenchReading
from qa.shop import Shop
from qa.store.newest import newest as newest_builds
from qa.store.store import Store
from qa.wood import Species, species

ENOUGH = 0.7  # of a size's stations: fewer are not a mean that compares with the other builds'


def tracks(
    shop: Shop,
    store: Store,
    part: str | None = None,
    characteristic: str | None = None,
    station: str | None = None,
    newest: int | None = None,
) -> list[Track]:
    """Every series of the shop, of one part or characteristic; one station or view of it where named.

    Oldest build first; of the `newest` builds only where that is given. ShopError names the near ones where
    one asked for is not known.
    """
    if station and not (part and characteristic):
        raise ShopError("a station is of one characteristic of one part: say --part and --characteristic too")
    if part and characteristic and station and not is_computed(station):
        points = series(shop, store, part, characteristic, station)
        return [of_points(part, characteristic, station, points, repeating(shop, store, part))]
    parts = list(dict.fromkeys(name for plan in _plans(shop) for name in plan.parts))
    if part is not None and part not in parts:
        raise ShopError(unknown("part", part, parts))
    rows = _rows(store, [part] if part else parts, newest)
    instrument_of, revisions = instruments_of(shop, store), Revisions.kept(store.plan_text)
    found = [
        track for name, own in rows for track in _of_part(shop, store, name, own, instrument_of, revisions)
    ]
    if part is None:
        found += pairs(found)
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


def repeating(shop: Shop, store: Store, part: str) -> dict[str, Instrument]:
    """The shop's instruments as they repeat on the wood of a part, by its newest plan."""
    instrument_of = instruments_of(shop, store)
    wood = next((plan.parts[part].species for plan in _plans(shop) if part in plan.parts), "")
    return {name: instrument_of(name).on(wood) for name in shop.instruments}


def _plans(shop: Shop) -> list[Plan]:
    return [plan for revisions in shop.plans.values() for plan in reversed(revisions)]


Rows = dict[str, list[BenchReading]]


def _rows(store: Store, parts: Sequence[str], newest: int | None) -> Iterator[tuple[str, Rows]]:
    """Each part with its readings by build: a query a part, or a build where only some builds are wanted."""
    builds = newest_builds(store, most=newest + 1) if newest is not None else []
    if newest is None or len(builds) <= newest:
        for part in parts:
            yield part, _by(store.readings(part=part), "build")
        return
    recent = (row for build in reversed(builds[:newest]) for row in store.readings(build))
    by_part = _by(recent, "part")
    for part in parts:
        yield part, _by(by_part.get(part, ()), "build")


def _by(rows: Iterable[BenchReading], name: str) -> Rows:
    found: Rows = {}
    for row in rows:
        found.setdefault(getattr(row, name), []).append(row)
    return found


def _of_part(
    shop: Shop, store: Store, part: str, by_build: Rows, instrument_of: InstrumentOf, revisions: Revisions
) -> list[Track]:
    known = shop.species()
    woods = {own.species: _wood(own.species, known) for plan in _plans(shop) if (own := plan.parts.get(part))}
    made: dict[Key, list[Made]] = defaultdict(list)
    said: dict[Key, tuple[str, bool, bool]] = {}
    left_out: dict[Key, list[str]] = defaultdict(list)
    odd: list[tuple[str, str]] = []
    for build in store.builds(by_build).values():
        plan = shop.plan(build.model, build.begun)
        if part not in plan.parts:
            continue
        own, rows = plan.parts[part], by_build[build.name]
        asked = revisions.asked_now(rows, plan)
        odd += [] if len(asked) == len(rows) else _odd(own, rows, plan, revisions)
        taken = visits(asked)
        measured = Measured(build.name, plan, own, taken.made, taken.later, instrument_of, woods[own.species])
        for item in measured.part.characteristics.values():
            for key, about, one in _views(measured, item):
                said[key] = about
                if isinstance(one, str):
                    left_out[key].append(one)
                else:
                    made[key].append(one)
    for key, (*_, primary) in said.items():
        left_out[key] += [told for name, told in odd if primary and name == key[1]]
    return [
        Track(*key, *said[key], tuple(made[key]), tuple(left_out[key]))
        for key in sorted(said, key=lambda key: (not said[key][2], list(said).index(key)))
    ]


def _odd(
    part: Part, rows: Sequence[BenchReading], plan: Plan, revisions: Revisions
) -> Iterator[tuple[str, str]]:
    """The characteristics of one build whose readings its plan asks for otherwise now, and that in words."""
    by_name = {row.characteristic: row for row in rows if revisions.otherwise(row, plan)}
    for item in part.characteristics.values():
        row = by_name.get(item.of or item.name)
        if row is not None:
            yield item.name, f"{row.build} {otherwise_words(row.plan)}: left out"


def _wood(name: str, known: Mapping[str, Species]) -> Species | None:
    try:
        return species(name, known)
    except CannotSay:
        return None


def _views(measured: Measured, item: Characteristic) -> Iterator[View]:
    """What a characteristic of one build adds: its series, (unit, absolute, primary), and the point."""
    kind = kinds()[item.kind]
    source = item.of or item.name
    stations = measured.part.stations(item)
    rows = {s.name: measured.made[source, s.name] for s in stations if (source, s.name) in measured.made}
    if not rows or (not kind.each_station and len(rows) < len(stations)):
        return
    try:
        for row in rows.values():
            measured.own(row, item.unit)
        values = kind.evaluate(item, stations, {name: row.value for name, row in rows.items()})
    except CannotSay:
        return
    told = [value for value in values if isinstance(value, Value)]
    whole = [value for value in told if value.station is None or value.station in item.overall]
    for value in whole:
        key = (measured.part.name, item.name, value.station)
        one = made_at(measured, item, rows, value.value, list(value.sensitivities.values()), value.station)
        yield key, (item.unit, False, True), one
    yield from _of_stations(measured, item, rows, [value for value in told if value not in whole])


def _of_stations(
    measured: Measured,
    item: Characteristic,
    rows: Mapping[str, BenchReading],
    values: Sequence[Value],
) -> Iterator[View]:
    stations = measured.part.stations(item)
    read = {value.station or "": value.value for value in values}
    sized = kinds()[item.kind].sized
    if not read:
        return
    target = None if item.target is None else item.target / MILLION
    wrong = [told for value in read.values() if sized and (told := slipped(measured.build, value, target))]
    key = (measured.part.name, item.name, MEAN if len(stations) > 1 else stations[0].name or None)
    if wrong:
        yield key, (item.unit, sized, True), wrong[0]
        return
    grows = grows_by(measured, item)
    if len(read) >= ENOUGH * len(stations):
        one = made_at(measured, item, rows, fmean(read.values()), [1 / len(read)] * len(read))
        settled = settled_at(measured, grows, [row.rh_percent for row in rows.values()])
        yield key, (item.unit, sized, True), replace(one, settled=settled)
    if sized:
        yield from differences(measured, item, rows, read)
        yield from moved(measured, item, rows, grows)
