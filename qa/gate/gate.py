"""The gate before glue-up: open or closed, every reason, and what comes next. Glue is irreversible."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from qa.errors import CannotSay
from qa.gate import words
from qa.gate.evidence import Climate, Evidence
from qa.gate.movement import Moved, movements, unpredicted
from qa.gate.overriding import in_force, overridden
from qa.gate.reasons import INSTRUMENT, Next, Note, Reason, reasons
from qa.judge import Latest, judge_part, latest_by_station
from qa.plans.plan import Part

__all__ = ["Climate", "Evidence", "Gate", "Next", "Note", "Reason", "gate"]


@dataclass(frozen=True, slots=True)
class Gate:
    """The answer for one part: `next` is the one word for what comes next; `notes` close nothing.

    `unpredicted` says, by characteristic, why no theory tells how the room's air will change it. `seen` is
    what an override of it is kept with.
    """

    build: str
    part: str
    open: bool
    next: Next
    reasons: tuple[Reason, ...]
    notes: tuple[Note, ...] = ()
    overridden: bool = False
    override: str = ""
    moved: tuple[Moved, ...] = ()
    unpredicted: Mapping[str, str] = field(default_factory=dict)
    climate: Climate | None = None
    seen: Mapping[str, object] = field(default_factory=dict)


def gate(evidence: Evidence, part: Part) -> Gate:
    """Open or closed for gluing one part of a build, with every reason. Not measured is never fit."""
    rows = evidence.holding(part)
    latest = latest_by_station(rows)
    judged = judge_part(part, rows, evidence.instrument_of)
    moved, unknown_wood = _movements(evidence, part, latest)
    found = reasons(evidence, part, judged, moved)
    override = in_force(evidence, part, found)
    is_open = not found or override is not None
    return Gate(
        evidence.build,
        part.name,
        is_open,
        "glue" if is_open else found[0].next,
        found,
        tuple(_notes(evidence, part, moved, latest, unknown_wood)),
        override is not None,
        override.text if override else "",
        moved,
        unpredicted(part),
        evidence.climate,
        overridden(found, evidence.last_row(part), evidence.plan.digest, evidence.climate),
    )


def _movements(evidence: Evidence, part: Part, latest: Latest) -> tuple[tuple[Moved, ...], str]:
    """How the part will move, and why that cannot be told where the wood has no figures."""
    try:
        return tuple(movements(part, latest, evidence.plan.reference, known=evidence.species)), ""
    except CannotSay as error:
        return (), words.unknown_wood(str(error))


def _notes(
    evidence: Evidence, part: Part, moved: Sequence[Moved], latest: Latest, unknown_wood: str
) -> Iterator[Note]:
    if evidence.climate is None:
        yield Note("climate", words.NO_CLIMATE, "air")
    if unknown_wood:
        yield Note("movement", unknown_wood)
    elif part.species and part.grain and latest and not moved:
        yield Note("movement", words.NO_MOVEMENT)
    used = {row.instrument for row in evidence.resting(part)}
    for name in sorted(used - evidence.states.keys() - evidence.struck - {""}):
        yield Note(f"{INSTRUMENT}{name}", words.not_described(name))
    for name, state in evidence.states.items():
        if state.trust == "never checked" and name in used:
            yield Note(f"{INSTRUMENT}{name}", words.never_checked(state), "check")
    glued = [item for item in evidence.events if item.kind == "glue-up" and item.part == part.name]
    if glued:
        yield Note("glue-up", words.glued(glued[-1].at))
