"""Differences within a part or of a pair, which hold no zero offset: ends, sides, and what moved since."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from qa.characteristics.base import MILLION, Characteristic, Station
from qa.drift.track import MOVED, Made, Track, own_uncertainty
from qa.drift.visits import Latest
from qa.errors import CannotSay
from qa.gate.movement import direction_of
from qa.instruments import Instrument, suited
from qa.judge import InstrumentOf
from qa.plans.plan import Part, Plan
from qa.record import BenchReading
from qa.wood import Species, coefficient, equilibrium_moisture, species

PAIRS = (("left", "right"), ("treble", "bass"))
Key = tuple[str, str, str | None]
View = tuple[Key, tuple[str, bool, bool], Made | str]


@dataclass(frozen=True, slots=True)
class Measured:
    """One build's part as it was measured, with the plan it was made to and what is known of instruments."""

    build: str
    plan: Plan
    part: Part
    made: Latest
    later: Latest
    instrument_of: InstrumentOf

    def own(self, row: BenchReading, unit: str) -> Instrument:
        """The instrument of a reading as it repeats on the part's wood; CannotSay where it cannot be."""
        return suited(self.instrument_of(row.instrument), unit).on(self.part.species)


def made_at(
    bench: Measured,
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
    u = own_uncertainty(bench.own(last, item.unit), weights)
    rh = [row.rh_percent for row in rows.values() if row.rh_percent is not None]
    return Made(
        bench.build, value - zero, u, lower, upper, last.instrument, last.bench, last.machine,
        float(np.mean(rh)) if rh else None, bench.plan.model, last.taken_at,
    )  # fmt: skip


def differences(
    bench: Measured,
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
        one = made_at(bench, item, rows, value, weights)
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


def moved(
    bench: Measured, item: Characteristic, rows: Mapping[str, BenchReading], grows: float
) -> Iterator[View]:
    """How far the same stations moved until they were read again, by the same caliper."""
    later = {s: bench.later[item.name, s] for s in rows if (item.name, s) in bench.later}
    both = {s: row for s, row in later.items() if row.instrument == rows[s].instrument}
    if not both:
        return
    value = float(np.mean([row.value - rows[s].value for s, row in both.items()]))
    one = made_at(bench, item, both, value, [1 / len(both)] * 2 * len(both))
    then = settled_at(bench, grows, [row.rh_percent for row in both.values()])
    before = settled_at(bench, grows, [rows[s].rh_percent for s in both])
    settled = None if then is None or before is None else then - before
    one = replace(one, deviation=value, lower=None, upper=None, settled=settled)
    yield (bench.part.name, item.name, MOVED), (item.unit, False, True), one


def grows_by(bench: Measured, item: Characteristic, known: Mapping[str, Species]) -> float:
    """How far (mm) the size moves per 1 % of moisture content; 0 where the plan does not say."""
    way = direction_of(bench.part, item)
    if way is None or not bench.part.species or not item.target:
        return 0.0
    try:
        return item.target / MILLION * coefficient(species(bench.part.species, known), way)
    except CannotSay:
        return 0.0


def settled_at(bench: Measured, grows: float, humidities: Sequence[float | None]) -> float | None:
    rh = [value for value in humidities if value is not None and 0 < value < 100]
    if not rh:
        return None
    reference = bench.plan.reference
    there = equilibrium_moisture(float(np.mean(rh)), reference.temp_c)
    return grows * (there - equilibrium_moisture(reference.rh_percent, reference.temp_c))


def pairs(found: Sequence[Track]) -> list[Track]:
    """Left less right of parts that come as a pair, build by build."""
    by_key = {(track.part, track.characteristic, track.station): track for track in found}
    pairs = []
    for track in found:
        for left, right in PAIRS:
            other = by_key.get((track.part.replace(left, right), track.characteristic, track.station))
            if left in track.part and other is not None and track.absolute:
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
