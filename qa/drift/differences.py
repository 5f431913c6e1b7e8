"""Differences within a part or of a pair, which hold no zero offset: ends, sides, and what moved since."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot
from statistics import fmean

from qa.characteristics.base import MILLION, Characteristic, Station, in_units
from qa.drift.track import LESS, MOVED, Made, Track, own_uncertainty
from qa.drift.visits import Latest
from qa.gate.movement import direction_of
from qa.instruments import Instrument, suited
from qa.judge import InstrumentOf
from qa.plans.plan import Part, Plan
from qa.record import BenchReading
from qa.wood import Species, coefficient, equilibrium_moisture

PAIRS = (("left", "right"), ("treble", "bass"))
Key = tuple[str, str, str | None]
View = tuple[Key, tuple[str, bool, bool], Made | str]


@dataclass(frozen=True, slots=True)
class Measured:
    """One build's part as it was measured, with the plan it was made to and what is known of instruments.

    `wood` is what it is made of; None where no figures of it are known.
    """

    build: str
    plan: Plan
    part: Part
    made: Latest
    later: Latest
    instrument_of: InstrumentOf
    wood: Species | None

    def own(self, row: BenchReading, unit: str) -> Instrument:
        """The instrument of a reading as it repeats on the part's wood; CannotSay where it cannot be."""
        return suited(self.instrument_of(row.instrument), unit).on(self.part.species)


def made_at(
    measured: Measured,
    item: Characteristic,
    rows: Mapping[str, BenchReading],
    value: float,
    weights: Sequence[float],
    station: str | None = None,
) -> Made:
    """A build's point in a series: a value (of `weights` on its readings) as a deviation from its target.

    In the characteristic's unit. CannotSay where the instrument that read last measures something else.
    """
    last = max(rows.values(), key=lambda row: (row.taken_at, row.sequence))
    limits = item.limits(station)
    zero = (limits.target or 0) / MILLION
    edges = map(in_units, (limits.lower, limits.upper))
    lower, upper = (None if edge is None else edge - zero for edge in edges)
    u = own_uncertainty(measured.own(last, item.unit), weights)
    rh = [row.rh_percent for row in rows.values() if row.rh_percent is not None]
    return Made(
        measured.build, value - zero, u, lower, upper, last.instrument, last.bench, last.machine,
        fmean(rh) if rh else None, measured.plan.model, last.taken_at,
    )  # fmt: skip


def differences(
    measured: Measured,
    item: Characteristic,
    rows: Mapping[str, BenchReading],
    read: Mapping[str, float],
) -> Iterator[View]:
    """One end less the other, along y (where no taper is planned) and across x."""
    stations = [station for station in measured.part.stations(item) if station.name in read]
    tapers = any(
        other.kind == "taper" and other.of == item.name for other in measured.part.characteristics.values()
    )
    ends = [_ends(stations, lambda station: -station.x)]
    if not tapers:
        ends.append(_ends(stations, lambda station: station.y))
    for high, low in filter(None, ends):
        value = fmean(read[n] for n in high) - fmean(read[n] for n in low)
        weights = [1 / len(high)] * len(high) + [1 / len(low)] * len(low)
        one = made_at(measured, item, rows, value, weights)
        one = replace(one, deviation=value, lower=None, upper=None)
        key = (measured.part.name, item.name, f"{_shared(high)}{LESS}{_shared(low)}")
        yield key, (item.unit, False, False), one


def _ends(
    stations: Sequence[Station], along: Callable[[Station], float]
) -> tuple[list[str], list[str]] | None:
    """The names of the stations furthest along and least far; None where all are as far."""
    far, near = (pick(map(along, stations), default=0.0) for pick in (max, min))
    if far == near:
        return None
    at_far, at_near = ([s.name for s in stations if along(s) == edge] for edge in (far, near))
    return at_far, at_near


def _shared(names: Sequence[str]) -> str:
    """The words the names of an end share: "top" of top-left and top-right."""
    words = [name.split("-") for name in names]
    common = [word for word in words[0] if all(word in other for other in words[1:])]
    return " ".join(common) or names[0]


def moved(
    measured: Measured, item: Characteristic, rows: Mapping[str, BenchReading], grows: float
) -> Iterator[View]:
    """How far the same stations moved until they were read again, by the same caliper."""
    later = {s: measured.later[item.name, s] for s in rows if (item.name, s) in measured.later}
    both = {s: row for s, row in later.items() if row.instrument == rows[s].instrument}
    if not both:
        return
    value = fmean(row.value - rows[s].value for s, row in both.items())
    one = made_at(measured, item, both, value, [1 / len(both)] * 2 * len(both))
    then = settled_at(measured, grows, [row.rh_percent for row in both.values()])
    before = settled_at(measured, grows, [rows[s].rh_percent for s in both])
    settled = None if then is None or before is None else then - before
    one = replace(one, deviation=value, lower=None, upper=None, settled=settled)
    yield (measured.part.name, item.name, MOVED), (item.unit, False, True), one


def grows_by(measured: Measured, item: Characteristic) -> float:
    """How far (mm) the size moves per 1 % of moisture content; 0 where the plan does not say."""
    way = direction_of(measured.part, item)
    if way is None or measured.wood is None or not item.target:
        return 0.0
    return item.target / MILLION * coefficient(measured.wood, way)


def settled_at(measured: Measured, grows: float, humidities: Sequence[float | None]) -> float | None:
    """How far (mm) the wood would move from its reference climate to the mean of those humidities (%).

    `grows` is as of `grows_by`; None where no humidity is known.
    """
    rh = [value for value in humidities if value is not None and 0 < value < 100]
    if not rh:
        return None
    reference = measured.plan.reference
    there = equilibrium_moisture(fmean(rh), reference.temp_c)
    return grows * (there - equilibrium_moisture(reference.rh_percent, reference.temp_c))


def pairs(found: Sequence[Track]) -> list[Track]:
    """Left less right of parts that come as a pair, build by build."""
    by_key = {(track.part, track.characteristic, track.station): track for track in found}
    pairs = []
    for track in found:
        for left, right in PAIRS:
            other = by_key.get((track.part.replace(left, right), track.characteristic, track.station))
            if left in track.part and other is not None and track.absolute:
                pairs.append(_less(track, other, f"{left}{LESS}{right}"))
    return pairs


def _less(track: Track, other: Track, says: str) -> Track:
    theirs = {one.build: one for one in other.made}
    made = tuple(
        replace(
            one,
            deviation=one.deviation - theirs[one.build].deviation,
            u=hypot(one.u, theirs[one.build].u),
            lower=None,
            upper=None,
            settled=None,
        )
        for one in track.made
        if one.build in theirs
    )
    return Track(track.part, track.characteristic, says, track.unit, False, True, made)
