"""What to take off a measured part, where, and in how many passes; or that planing cannot save it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from qa.bench.planing import still_holding
from qa.bench.watch import waiting
from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic, Station
from qa.conformity import Verdict, guard_band
from qa.errors import CannotSay
from qa.instruments import budget, suited
from qa.judge import InstrumentOf, Judged, Latest, judge_characteristic, latest_by_station
from qa.plans.plan import Part
from qa.record import BenchReading, standing
from qa.stock import Passes, Removal, passes, removal
from qa.uncertainty import combine

SHAVING = (0.025, 0.05)
"""What one shaving of a hand plane takes, fine to ordinary, in mm (common practice, no source)."""

CAUTION = (
    "Hold a small part in a vice or against a stop, never in the fingertips, and never send a short one "
    "through a powered machine; keep both hands behind the edge, measure with the machine off, draw off the "
    "dust and wear a mask. The machine maker's instructions and local rules come first."
)


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do about one size of a part.

    `take_off` is mm by station; `aim` the mean size once done; `passes` what this part's own log says, None
    where it has too few. `missing` are stations without a reading since the part was last `planed`. `short`
    is the station furthest below the lower limit, and by how much; `doubtful` says that this is less than a
    reading can tell. `in_doubt` says by which instrument found off it was read, and `held` is a doubted
    reading that waits for its answer: nothing is advised then.
    """

    characteristic: str
    feasible: bool
    aim: float | None
    take_off: Mapping[str, float]
    passes: Passes | None = None
    missing: tuple[str, ...] = ()
    high_corners: tuple[str, ...] = ()
    short: tuple[str, float] | None = None
    done: bool = False
    planed: bool = False
    doubtful: bool = False
    in_doubt: str = ""
    held: BenchReading | None = None

    @property
    def lost(self) -> bool:
        """Whether no planing can save the part, beyond doubt."""
        return not (self.feasible or self.missing or self.doubtful or self.in_doubt or self.held)


def advise(
    part: Part, readings: Sequence[BenchReading], instrument_of: InstrumentOf, planed_at: str = ""
) -> list[Advice]:
    """Advice on every size of a part whose readings have begun, those that need work first.

    Sizes are brought inside their limits by the guard band, and by what the next reading may stray by itself,
    where there is room: so the finished part will be judged to conform when it is read again. The taper and
    twist of a size are part of its advice. Readings from before the part was last planed (`planed_at`, ISO
    8601 UTC) tell how much a pass takes, and nothing else.
    """
    rows = standing(readings)
    latest = latest_by_station(still_holding(part, rows, planed_at))
    begun = {row.characteristic for row in rows}
    sizes = [c for c in part.characteristics.values() if c.name in begun and kinds()[c.kind].sized]
    held = {row.characteristic: row for row in still_holding(part, waiting(readings), planed_at)}
    found = [
        Advice(item.name, False, None, {}, held=held[item.name])
        if item.name in held
        else _advise(part, item, rows, latest, instrument_of)
        for item in sizes
    ]
    return sorted(found, key=lambda advice: (advice.done, advice.feasible))


def _advise(
    part: Part,
    item: Characteristic,
    rows: Sequence[BenchReading],
    latest: Latest,
    instrument_of: InstrumentOf,
) -> Advice:
    missing = tuple(s.name for s in item.stations if (item.name, s.name) not in latest)
    if missing:
        read = {row.station for row in rows if row.characteristic == item.name}
        return Advice(item.name, False, None, {}, missing=missing, planed=set(missing) <= read)
    sizes = np.array([latest[item.name, s.name].value for s in item.stations])
    shapes = {c.kind: c for c in part.characteristics.values() if c.of == item.name}
    judged = [
        j for c in (item, *shapes.values()) for j in judge_characteristic(part, c, latest, instrument_of)
    ]
    names = [s.name for s in item.stations]
    in_doubt = "; ".join(dict.fromkeys(j.in_doubt for j in judged if j.in_doubt))
    if in_doubt:
        return Advice(item.name, False, None, {}, in_doubt=in_doubt)
    if all(j.verdict == Verdict.CONFORMS for j in judged):
        return Advice(item.name, True, float(sizes.mean()), dict.fromkeys(names, 0.0), done=True)
    try:
        result = _least(item, sizes, shapes, _margins(judged, _stray(part, item, latest, instrument_of)))
    except CannotSay:
        return Advice(item.name, False, None, {})
    off = dict(zip(names, (round(float(mm), 6) + 0.0 for mm in result.take_off), strict=True))
    short = (names[result.short.index], result.short.by) if result.short else None
    corners = _high_corners(item.stations, sizes) if "twist" in shapes else ()
    undecided = {(j.characteristic, j.station) for j in judged if j.verdict == Verdict.UNDECIDED}
    return Advice(
        item.name,
        result.feasible,
        result.aim,
        off,
        _passes(_pass_log(item, rows), off),
        high_corners=corners,
        short=short,
        doubtful=short is not None and (item.name, short[0]) in undecided,
    )


def _least(
    item: Characteristic,
    sizes: np.ndarray,
    shapes: Mapping[str, Characteristic],
    margins: Sequence[Mapping[str, float]],
) -> Removal:
    """The least removal with the widest margins that leave room for one."""
    points = np.array([[s.x, s.y, size] for s, size in zip(item.stations, sizes, strict=True)])
    lower = (item.lower or 0) / MILLION
    upper = (item.upper / MILLION) if item.upper is not None else float(sizes.max()) + 1.0
    target = item.target / MILLION if item.target is not None else (lower + upper) / 2
    for margin in margins:
        try:
            result = removal(
                points,
                target,
                lower,
                upper,
                taper_limit=_limit(shapes.get("taper"), margin.get("taper", 0.0)),
                taper_target=(shapes["taper"].target or 0) / MILLION if "taper" in shapes else 0.0,
                twist_limit=_limit(shapes.get("twist"), margin.get("twist", 0.0)),
                guard=margin.get(item.kind, 0.0),
            )
        except CannotSay:
            if not margin:
                raise
            continue
        if result.feasible:
            break
    return result


def _margins(judged: Sequence[Judged], stray: float) -> list[dict[str, float]]:
    """Margins to keep from a limit by kind, widest first: with the next reading's own error, without, none.

    Of a taper or twist nearly all the uncertainty is the readings' own; of a size, `stray` is (mm). A
    thousandth more, so that rounding cannot undo it.
    """
    guards: dict[str, float] = {}
    again: dict[str, float] = {}
    for item in judged:
        if item.standard_uncertainty is not None:
            band = guard_band(item.standard_uncertainty)
            own = guard_band(stray) if kinds()[item.kind].sized else band
            guards[item.kind] = max(guards.get(item.kind, 0.0), band + 0.001)
            again[item.kind] = max(again.get(item.kind, 0.0), band + own + 0.001)
    return [again, guards, {}]


def _stray(part: Part, item: Characteristic, latest: Latest, instrument_of: InstrumentOf) -> float:
    """Standard uncertainty of a reading's own error: display step and repeatability, the widest in use."""
    rows = [latest[item.name, s.name] for s in item.stations]
    own = (budget(suited(instrument_of(row.instrument), item.unit), part.species).own for row in rows)
    return max(combine(lines).u for lines in own)


def _limit(shape: Characteristic | None, guard: float) -> float | None:
    if shape is None or shape.upper is None:
        return None
    limit = (shape.upper - (shape.target or 0)) / MILLION
    return limit - guard if limit > guard else limit


def _high_corners(stations: tuple[Station, ...], sizes: np.ndarray) -> tuple[str, ...]:
    """The two corners on the diagonal that stands high, where the part is twisted."""
    from qa.geometry import twist_weights

    try:
        weights = twist_weights(np.array([[s.x, s.y] for s in stations]))
    except CannotSay:
        return ()
    sign = 1 if float(weights @ sizes) > 0 else -1
    return tuple(s.name for s, weight in zip(stations, weights, strict=True) if sign * weight > 0)


def _pass_log(item: Characteristic, rows: Sequence[BenchReading]) -> list[float]:
    """The mean size after each pass in which every station was read."""
    by_station: dict[str, list[float]] = {s.name: [] for s in item.stations}
    for row in rows:
        if row.characteristic == item.name and row.station in by_station:
            by_station[row.station].append(row.value)
    count = min(map(len, by_station.values()))
    return [float(np.mean([sizes[n] for sizes in by_station.values()])) for n in range(count)]


def _passes(log: Sequence[float], take_off: Mapping[str, float]) -> Passes | None:
    deepest = max(take_off.values(), default=0.0)
    try:
        return passes(log, deepest) if len(log) >= 3 and deepest > 0 else None
    except CannotSay:
        return None
