"""Judges a part: from its readings and its plan to one verdict for each characteristic."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from qa.bench.watch import waiting
from qa.characteristics import kinds
from qa.characteristics.base import Characteristic, Kind, Station, Unsaid, Value, in_units
from qa.conformity import Verdict, conformance_probability, decide
from qa.errors import CannotSay
from qa.instruments import Instrument, budget, suited
from qa.plans.plan import Part, Plan
from qa.record import BenchReading, place_name, standing
from qa.uncertainty import Combined, ReadingBudget, propagate

InstrumentOf = Callable[[str | None], Instrument]


@dataclass(frozen=True, slots=True)
class Judged:
    """The verdict on one characteristic, at one station or of the whole part (`station` None).

    Value, target, limits, deviation and standard uncertainty are in `unit`; None where not measured or where
    the plan sets none. A value that the readings cannot tell is None and undecided, and `why` says so; beside
    a value, `why` is what a reader of it should know. `in_doubt` names an instrument that was later found off
    when the readings were taken, and `off` how much of the value is its error; nothing is taken off here.
    """

    characteristic: str
    station: str | None
    kind: str
    unit: str
    target: float | None
    lower: float | None
    upper: float | None
    verdict: Verdict = Verdict.NOT_MEASURED
    value: float | None = None
    deviation: float | None = None
    standard_uncertainty: float | None = None
    conformance_probability: float | None = None
    uncertainty: Combined | None = None
    taken_at: str | None = None
    why: str = ""
    in_doubt: str = ""
    off: float = 0.0
    confidence: float = 0.95

    @property
    def place(self) -> str:
        """Characteristic and station, as a person says it."""
        return place_name(self.characteristic, self.station)


@dataclass(frozen=True, slots=True)
class JudgedPart:
    """The verdicts on one part; it is fit only when every characteristic conforms.

    `held` are doubted readings that do not count and still wait for an answer.
    """

    part: str
    characteristics: tuple[Judged, ...]
    held: tuple[BenchReading, ...] = ()

    @property
    def fit(self) -> bool:
        return self.verdict == Verdict.CONFORMS

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of its characteristics."""
        found = {item.verdict for item in self.characteristics}
        return next((verdict for verdict in WORST_FIRST if verdict in found), Verdict.NOT_MEASURED)


DUST = 1e-6
"""Below this an effect of an instrument's error is none, in the unit of the value."""

WORST_FIRST = (Verdict.DOES_NOT_CONFORM, Verdict.NOT_MEASURED, Verdict.UNDECIDED, Verdict.CONFORMS)


@dataclass(frozen=True, slots=True)
class JudgedBuild:
    """The verdicts on one build, and the digest of the plan revision it was judged by."""

    build: str
    model: str
    plan: str
    parts: tuple[JudgedPart, ...]

    @property
    def fit(self) -> bool:
        return all(part.fit for part in self.parts)


def judge_build(
    build: str, plan: Plan, readings: Iterable[BenchReading], instrument_of: InstrumentOf
) -> JudgedBuild:
    """Judge every part of a plan by a build's readings (all rows of the build, in any order)."""
    by_part: dict[str, list[BenchReading]] = {name: [] for name in plan.parts}
    for row in readings:
        if row.part in by_part:
            by_part[row.part].append(row)
    parts = tuple(judge_part(plan.parts[name], rows, instrument_of) for name, rows in by_part.items())
    return JudgedBuild(build, plan.model, plan.digest, parts)


def judge_part(part: Part, readings: Iterable[BenchReading], instrument_of: InstrumentOf) -> JudgedPart:
    """Judge one part by its readings: the latest that stands at each station counts."""
    rows = list(readings)
    latest = latest_by_station(standing(rows))
    judged: list[Judged] = []
    for characteristic in part.characteristics.values():
        judged += judge_characteristic(part, characteristic, latest, instrument_of)
    return JudgedPart(part.name, tuple(judged), tuple(waiting(rows)))


Latest = Mapping[tuple[str, str], BenchReading]


def latest_by_station(rows: Sequence[BenchReading]) -> Latest:
    """The last of the standing rows by (characteristic, station)."""
    return {(row.characteristic, row.station): row for row in rows}


def judge_characteristic(
    part: Part, characteristic: Characteristic, latest: Latest, instrument_of: InstrumentOf
) -> list[Judged]:
    """Judge one characteristic by the readings that count: one verdict per station, or one for the part."""
    kind = kinds()[characteristic.kind]
    source = characteristic.of or characteristic.name
    stations = part.stations(characteristic)
    rows = {s.name: latest[source, s.name] for s in stations if (source, s.name) in latest}
    due = [*(s.name for s in stations), *characteristic.overall] if kind.each_station else [None]
    found: Sequence[Value | Unsaid] = ()
    if kind.each_station or len(rows) == len(stations):
        found = _evaluate(kind, characteristic, stations, rows)
    said = {item.station: _judge(part, characteristic, item, rows, instrument_of) for item in found}
    return [said.get(name) or _blank(characteristic, name) for name in due]


def _evaluate(
    kind: Kind,
    characteristic: Characteristic,
    stations: tuple[Station, ...],
    rows: Mapping[str, BenchReading],
) -> Sequence[Value | Unsaid]:
    try:
        return kind.evaluate(characteristic, stations, {name: row.value for name, row in rows.items()})
    except CannotSay as error:
        return [Unsaid(name, str(error)) for name in (rows if kind.each_station else [None])]


def _judge(
    part: Part,
    characteristic: Characteristic,
    value: Value | Unsaid,
    rows: Mapping[str, BenchReading],
    instrument_of: InstrumentOf,
) -> Judged:
    blank = _blank(characteristic, value.station)
    if isinstance(value, Unsaid):
        return replace(blank, verdict=Verdict.UNDECIDED, why=value.why)
    try:
        slopes = {name: slope for name, slope in value.sensitivities.items() if slope}
        budgets = {name: _budget(part, characteristic, rows[name], instrument_of) for name in slopes}
        combined = propagate(slopes, budgets)
        bounds = combined.u, blank.lower, blank.upper
        probability = conformance_probability(value.value, *bounds)
        verdict = decide(value.value, *bounds, characteristic.confidence)
    except CannotSay as error:
        return replace(blank, verdict=Verdict.UNDECIDED, why=str(error))
    off, in_doubt = _off(part, characteristic, slopes, rows, instrument_of)
    return replace(
        blank,
        verdict=verdict,
        value=value.value,
        deviation=None if blank.target is None else value.value - blank.target,
        standard_uncertainty=combined.u,
        conformance_probability=probability,
        uncertainty=combined,
        taken_at=max(rows[name].taken_at for name in value.sensitivities),
        why=value.note,
        in_doubt=in_doubt,
        off=off,
    )


def _budget(
    part: Part, characteristic: Characteristic, row: BenchReading, instrument_of: InstrumentOf
) -> ReadingBudget:
    instrument = suited(instrument_of(row.instrument), characteristic.unit, row.instrument)
    if not _held_by_jaws(part, characteristic):
        return budget(instrument, part.species, at=row.taken_at)
    return budget(instrument, part.species, part.jaw_give, row.taken_at, row.value)


def told_by_checks(read: Characteristic) -> bool:
    """Whether a check of an instrument tells of what it reads there: between the jaws, or in per cent."""
    return kinds()[read.kind].sized or read.unit == "%"


def _held_by_jaws(part: Part, characteristic: Characteristic) -> bool:
    return kinds()[part.source(characteristic).kind].sized


def _off(
    part: Part,
    characteristic: Characteristic,
    slopes: Mapping[str, float],
    rows: Mapping[str, BenchReading],
    instrument_of: InstrumentOf,
) -> tuple[float, str]:
    """By how much a value is off because an instrument was later found off, and why; 0 and "" for not at all.

    What is read otherwise than between the jaws (a depth, a gap) is left alone, and what cancels is not off.
    """
    if not told_by_checks(part.source(characteristic)):
        return 0.0, ""
    total, whys = 0.0, dict[str, None]()
    for name, slope in slopes.items():
        stretch = instrument_of(rows[name].instrument).stretch(rows[name].taken_at)
        if stretch is not None and stretch.off is not None:
            total += slope * stretch.off.at(rows[name].value)[0]
            whys[stretch.why] = None
    return (total, "; ".join(whys)) if abs(total) > DUST else (0.0, "")


def _blank(characteristic: Characteristic, station: str | None) -> Judged:
    limits = characteristic.limits(station)
    return Judged(
        characteristic.name,
        station or None,
        characteristic.kind,
        characteristic.unit,
        in_units(limits.target),
        in_units(limits.lower),
        in_units(limits.upper),
        confidence=characteristic.confidence,
    )
