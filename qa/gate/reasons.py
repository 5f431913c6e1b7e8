"""Why a part is not fit to glue: its readings, the room, the wood, the instruments, its mates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from qa.bench.planing import last_planed
from qa.characteristics import kinds
from qa.conformity import Verdict
from qa.errors import CannotSay
from qa.gate import reading_words, words
from qa.gate.advice import Advice, advise
from qa.gate.evidence import Evidence
from qa.gate.mating import fit
from qa.gate.movement import Moved
from qa.instruments import UNITS
from qa.judge import Judged, JudgedPart, Latest, judge_characteristic
from qa.plans.plan import Mate, Part
from qa.record import AHEAD, BenchReading

Next = Literal["glue", "measure", "work", "wait", "stop"]
Asks = Literal["", "air", "check", "check again"]
"""What a reason asks for: the room's air, or a check of the instrument, as found or once it was set. How that
is done is for the command or the page to say."""
RANK = ("stop", "measure first", "work", "measure", "wait")
"""Which of several reasons decides what comes next: wood that is gone, then readings that are missing, then
work, then doubt, then the room."""
INSTRUMENT = "instrument/"
"""What a reason or a note of an instrument is about begins with; its name follows."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason why the gate is closed: what it is about, why in one sentence, and what would help."""

    about: str
    why: str
    rank: str
    asks: Asks = ""

    @property
    def next(self) -> Next:
        return "measure" if self.rank == "measure first" else self.rank  # type: ignore[return-value]  # one of RANK


@dataclass(frozen=True, slots=True)
class Note:
    """What could not be looked at, or is good to know: what it is about, and why. It closes nothing."""

    about: str
    why: str
    asks: Asks = ""


def about_place(item: Judged | Moved) -> str:
    """What a reason is about: "characteristic/station", or the characteristic of the whole part."""
    return f"{item.characteristic}/{item.station}" if item.station else item.characteristic


def reasons(evidence: Evidence, part: Part, judged: JudgedPart, moved: Sequence[Moved]) -> tuple[Reason, ...]:
    """Every reason why a part is not fit to glue, what decides first, in the order of the plan."""
    rests_on, otherwise = evidence.resting(part), evidence.read_otherwise(part)
    found = (
        *_characteristics(evidence, part, judged, moved, otherwise),
        *_held(evidence, part),
        *_otherwise(part, otherwise),
        *_age(evidence, part, rests_on),
        *_instruments(evidence, rests_on),
        *_air(evidence),
        *_wood(evidence, judged, moved),
        *_mates(evidence, part),
    )
    return tuple(sorted(found, key=lambda reason: RANK.index(reason.rank)))


def _characteristics(
    evidence: Evidence,
    part: Part,
    judged: JudgedPart,
    moved: Sequence[Moved],
    otherwise: Sequence[BenchReading],
) -> Iterator[Reason]:
    if not judged.characteristics:
        yield Reason("part", reading_words.nothing_to_read(part), "measure first")
    rows, planed_at = evidence.rows(part.name), last_planed(evidence.events, part.name)
    advice = {item.characteristic: item for item in advise(part, rows, evidence.instrument_of, planed_at)}
    was_read = {(row.characteristic, row.station) for row in rows}
    told = {(row.characteristic, row.station) for row in otherwise if row.part == part.name}
    settles = {(item.characteristic, item.station): item for item in moved if _odd_air(evidence, item)}
    for item in judged.characteristics:
        about = about_place(item)
        source = part.source(part.characteristics[item.characteristic])
        if item.verdict == Verdict.NOT_MEASURED:
            places = [(source.name, s.name) for s in source.stations if item.station in (None, s.name)]
            if not told.isdisjoint(places):
                continue  # of the reading itself
            void = was_read.issuperset(places) and bool(planed_at)
            yield Reason(about, reading_words.not_measured(item, void), "measure first")
        elif item.in_doubt:
            yield Reason(about, words.in_doubt(item, evidence.unit), "measure first")
        elif item.verdict == Verdict.UNDECIDED:
            yield Reason(about, words.undecided(item, advice.get(source.name), evidence.unit), "measure")
        elif item.verdict == Verdict.DOES_NOT_CONFORM:
            settled = settles.get((item.characteristic, item.station or ""))
            yield _outside(about, item, advice.get(source.name), settled, evidence.unit)


def _odd_air(evidence: Evidence, item: Moved) -> bool:
    """Whether a size was read in air outside the window for gluing, and will come inside its limits."""
    low, high = evidence.plan.reference.glue_rh_percent
    return item.within and not low <= item.rh <= high


def _outside(about: str, item: Judged, advice: Advice | None, settled: Moved | None, unit: str) -> Reason:
    if settled is not None:
        return Reason(about, words.settles(item, settled, unit), "wait")
    if item.kind == "moisture":
        return Reason(about, words.outside(item, unit), "wait")
    wood = kinds()[item.kind].sized or item.station == "flat"
    under = wood and item.lower is not None and (item.value or 0.0) < item.lower
    if under or (advice is not None and advice.lost):
        return Reason(about, words.lost(item, advice, unit), "stop")
    return Reason(about, words.to_work(item, advice, unit), "work")


def _held(evidence: Evidence, part: Part) -> Iterator[Reason]:
    for row in evidence.held(part):
        yield Reason(_about_row(part, row), reading_words.held(part, row, evidence.unit), "measure first")


def _otherwise(part: Part, otherwise: Sequence[BenchReading]) -> Iterator[Reason]:
    for row in otherwise:
        yield Reason(_about_row(part, row), reading_words.read_otherwise(part, row), "measure first")


def _about_row(part: Part, row: BenchReading) -> str:
    """As `about_place`, of a reading; one of another part begins with that part."""
    own = (row.characteristic, row.station)
    return "/".join(filter(None, own if row.part == part.name else (row.part, *own)))


def _age(evidence: Evidence, part: Part, rests_on: Sequence[BenchReading]) -> Iterator[Reason]:
    life = dt.timedelta(hours=evidence.plan.reference.reading_life_hours)
    ages = [(evidence.now - dt.datetime.fromisoformat(row.taken_at), row) for row in rests_on]
    old = [row for age, row in ages if age > life]
    if old:
        oldest = min(old, key=lambda row: row.taken_at)
        yield Reason("readings", reading_words.too_old(part, len(old), oldest, evidence.now, life), "measure")
    ahead = [row for age, row in ages if -age > AHEAD]
    if ahead:
        yield Reason(
            "readings", reading_words.ahead(len(ahead), max(ahead, key=lambda row: row.taken_at)), "measure"
        )


def _instruments(evidence: Evidence, rests_on: Sequence[BenchReading]) -> Iterator[Reason]:
    for name in sorted({row.instrument for row in rests_on}):
        about, state = f"{INSTRUMENT}{name}", evidence.states.get(name)
        if name in evidence.struck:
            yield Reason(about, words.struck(name), "measure")
        elif state is not None and not state.believed:
            unit = UNITS[evidence.instrument_of(name).quantity]
            asks: Asks = "check again" if state.trust == "failed" else "check"
            yield Reason(about, words.instrument(state, unit, evidence.unit), "measure", asks)


def _air(evidence: Evidence) -> Iterator[Reason]:
    low, high = evidence.plan.reference.glue_rh_percent
    if evidence.climate and not low <= evidence.climate.rh_percent <= high:
        yield Reason("climate", words.air(evidence.climate.rh_percent, low, high), "wait")


def _wood(evidence: Evidence, judged: JudgedPart, moved: Sequence[Moved]) -> Iterator[Reason]:
    conforming = {
        (item.characteristic, item.station or "")
        for item in judged.characteristics
        if item.verdict == Verdict.CONFORMS
    }
    for item in moved:
        if not item.within and (item.characteristic, item.station) in conforming:
            yield Reason(about_place(item), words.moves(item, evidence.unit), "wait")


def _mates(evidence: Evidence, part: Part) -> Iterator[Reason]:
    parts = evidence.plan.parts
    latest = {one.name: evidence.latest(one) for one in evidence.concerned(part)}
    for mate in part.mates:
        about = f"mate/{mate.name}"
        try:
            found = fit(part, mate, parts, latest, evidence.instrument_of)
        except CannotSay as error:
            yield Reason(about, words.mate_unsaid(mate, str(error)), "measure")
            continue
        if found.verdict == Verdict.NOT_MEASURED:
            yield Reason(about, words.mate_missing(mate), "measure first")
        elif found.verdict != Verdict.CONFORMS:
            rank = "measure" if found.verdict == Verdict.UNDECIDED else "work"
            yield Reason(about, words.mate(found, evidence.unit), rank)
        for item in _met(evidence, mate, latest[mate.part]):
            if item.in_doubt:
                yield Reason(about, words.mate_in_doubt(mate, item, evidence.unit), "measure first")


def _met(evidence: Evidence, mate: Mate, latest: Latest) -> list[Judged]:
    """The verdicts on the size that a mate meets."""
    other = evidence.plan.parts[mate.part]
    return judge_characteristic(other, other.characteristics[mate.size_of], latest, evidence.instrument_of)
