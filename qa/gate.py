"""The gate before glue-up: open or closed, every reason, and what comes next. Glue is irreversible."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from qa import gate_words as words
from qa.advice import Advice, advise
from qa.characteristics import kinds
from qa.conformity import Verdict
from qa.judge import InstrumentOf, Judged, JudgedPart, judge_part, latest_by_station
from qa.mating import fit
from qa.movement import Moved, movements
from qa.plan import Part, Plan
from qa.record import BenchEvent, BenchReading, standing
from qa.trust import State
from qa.wood import Species

Next = Literal["glue", "measure", "work", "wait", "stop"]
RANK = ("stop", "measure first", "work", "measure", "wait")
"""Which of several reasons decides what comes next: wood that is gone, then readings that are missing, then
work, then doubt, then the room."""


@dataclass(frozen=True, slots=True)
class Climate:
    """The room's air: relative humidity in per cent, degrees Celsius, and when that was so."""

    rh_percent: float
    temp_c: float | None = None
    at: str = ""


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason why the gate is closed: what it is about, why in one sentence, and what would help."""

    about: str
    why: str
    rank: str

    @property
    def next(self) -> Next:
        return "measure" if self.rank == "measure first" else self.rank  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class Gate:
    """The answer for one part: `next` is the one word for what comes next; `notes` close nothing."""

    build: str
    part: str
    open: bool
    next: Next
    reasons: tuple[Reason, ...]
    notes: tuple[str, ...] = ()
    overridden: bool = False
    override: str = ""
    moved: tuple[Moved, ...] = ()
    judged: JudgedPart | None = None
    climate: Climate | None = None


@dataclass(frozen=True, slots=True)
class Bench:
    """What the gate looks at: a build's readings and events, its instruments, the room, the time."""

    build: str
    plan: Plan
    readings: Sequence[BenchReading]
    events: Sequence[BenchEvent]
    instrument_of: InstrumentOf
    states: Mapping[str, State]
    now: dt.datetime
    climate: Climate | None = None
    species: Mapping[str, Species] | None = None
    unit: str = "mm"

    def rows(self, part: str) -> list[BenchReading]:
        """The rows of one part."""
        return [row for row in self.readings if row.part == part]


def gate(bench: Bench, part: Part) -> Gate:
    """Open or closed for gluing one part of a build, with every reason. Not measured is never fit."""
    rows = standing(bench.rows(part.name))
    judged = judge_part(part, rows, bench.instrument_of)
    moved = tuple(movements(part, latest_by_station(rows), bench.plan.reference, known=bench.species))
    reasons = tuple(
        reason
        for found in (
            _characteristics(bench, part, judged, rows),
            _age(bench, part, rows),
            _instruments(bench, rows),
            _air(bench),
            _wood(bench, part, judged, moved),
            _mates(bench, part),
        )
        for reason in found
    )
    override = _override(bench, part, rows)
    next_word = min(reasons, key=lambda reason: RANK.index(reason.rank)).next if reasons else "glue"
    is_open = not reasons or override is not None
    return Gate(
        bench.build,
        part.name,
        is_open,
        "glue" if is_open else next_word,
        reasons,
        tuple(_notes(bench, part, moved)),
        bool(reasons) and override is not None,
        override.text if reasons and override else "",
        moved,
        judged,
        bench.climate,
    )


def _characteristics(
    bench: Bench, part: Part, judged: JudgedPart, rows: Sequence[BenchReading]
) -> Iterator[Reason]:
    advice = {item.characteristic: item for item in advise(part, rows, bench.instrument_of)}
    for item in judged.characteristics:
        about = f"{item.characteristic}/{item.station}" if item.station else item.characteristic
        if item.verdict == Verdict.NOT_MEASURED:
            yield Reason(about, words.not_measured(item), "measure first")
        elif item.verdict == Verdict.UNDECIDED:
            yield Reason(about, words.undecided(item, bench.unit), "measure")
        elif item.verdict == Verdict.DOES_NOT_CONFORM:
            source = part.source(part.characteristics[item.characteristic]).name
            yield _outside(about, item, advice.get(source), bench.unit)


def _outside(about: str, item: Judged, advice: Advice | None, unit: str) -> Reason:
    if item.kind == "moisture":
        return Reason(about, words.outside(item, unit), "wait")
    wood = kinds()[item.kind].sized or item.station == "flat"
    under = wood and item.lower is not None and (item.value or 0.0) < item.lower
    lost = advice is not None and not advice.feasible and not advice.missing
    if under or lost:
        return Reason(about, words.lost(item, advice, unit), "stop")
    return Reason(about, words.to_work(item, advice, unit), "work")


def _age(bench: Bench, part: Part, rows: Sequence[BenchReading]) -> Iterator[Reason]:
    latest = list(latest_by_station(rows).values())
    planed = [e.at for e in bench.events if e.kind == "planed" and e.part == part.name]
    before = [row for row in latest if planed and row.taken_at < planed[-1]]
    if before:
        yield Reason("readings", words.before_planing(before), "measure")
    life = dt.timedelta(hours=bench.plan.reference.reading_life_hours)
    old = [row for row in latest if bench.now - dt.datetime.fromisoformat(row.taken_at) > life]
    if old:
        oldest = min(old, key=lambda row: row.taken_at)
        yield Reason("readings", words.too_old(len(old), oldest, bench.now, life), "measure")


def _instruments(bench: Bench, rows: Sequence[BenchReading]) -> Iterator[Reason]:
    for name in sorted({row.instrument for row in latest_by_station(rows).values()}):
        state = bench.states.get(name)
        if state is not None and not state.believed:
            yield Reason(f"instrument/{name}", words.instrument(state), "measure")


def _air(bench: Bench) -> Iterator[Reason]:
    low, high = bench.plan.reference.glue_rh_percent
    if bench.climate and not low <= bench.climate.rh_percent <= high:
        yield Reason("climate", words.air(bench.climate.rh_percent, low, high), "wait")


def _wood(bench: Bench, part: Part, judged: JudgedPart, moved: Sequence[Moved]) -> Iterator[Reason]:
    conforming = {
        (item.characteristic, item.station or "")
        for item in judged.characteristics
        if item.verdict == Verdict.CONFORMS
    }
    for item in moved:
        if not item.within and (item.characteristic, item.station) in conforming:
            yield Reason(f"{item.characteristic}/{item.station}", words.moves(item, bench.unit), "wait")


def _mates(bench: Bench, part: Part) -> Iterator[Reason]:
    latest = {name: latest_by_station(standing(bench.rows(name))) for name in bench.plan.parts}
    for mate in part.mates:
        found = fit(part, mate, bench.plan.parts, latest, bench.instrument_of)
        about = f"mate/{mate.name}"
        if found.verdict == Verdict.NOT_MEASURED:
            yield Reason(about, words.mate_missing(mate), "measure first")
        elif found.verdict != Verdict.CONFORMS:
            rank = "measure" if found.verdict == Verdict.UNDECIDED else "work"
            yield Reason(about, words.mate(found, bench.unit), rank)


def _override(bench: Bench, part: Part, rows: Sequence[BenchReading]) -> BenchEvent | None:
    """The maker's override, which holds until the part is read again."""
    last_read = max((row.taken_at for row in rows), default="")
    made = [e for e in bench.events if e.kind == "override" and e.part == part.name and e.at >= last_read]
    return made[-1] if made else None


def _notes(bench: Bench, part: Part, moved: Sequence[Moved]) -> Iterator[str]:
    if bench.climate is None:
        yield words.NO_CLIMATE
    if part.species and part.grain and not moved:
        yield words.NO_MOVEMENT
    for name, state in bench.states.items():
        if state.trust == "never checked" and any(row.instrument == name for row in bench.rows(part.name)):
            yield words.never_checked(name)
