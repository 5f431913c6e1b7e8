"""Everything that was ever read and decided of a build, in the order of time, and what each row is worth."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qa.bench.planing import last_planed, outlived
from qa.bench.speech import amount
from qa.bench.watch import ACCEPTED
from qa.plans.revisions import UNKNOWN, Revisions
from qa.record import BenchEvent, BenchReading, answers, standing

if TYPE_CHECKING:
    from qa.instruments import Instrument
    from qa.plans.plan import Plan

COUNTS = "counts"
HELD = "held, does not count"
REPEATED = "read again since"
PLANED_SINCE = "planed since"
CORRECTED = "corrected"
WITHDRAWN = "withdrawn"
WITHDRAWS = "withdraws"
ACCEPTED_LATER = "held, then accepted"
NOT_PLANNED = "not in its plan"
ASKED_OTHERWISE = "asked for otherwise by now"


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of a build's record.

    `at` is ISO 8601 in UTC; `place` a characteristic and its station; `what` the value, or what was done;
    `who` the instrument and bench, or the person. `standing` says what a reading is worth today, "" for an
    event; `remarks` why, and what was doubted. `revision` is the digest of the plan in force. `in_doubt` is
    whether its instrument was later found off.
    """

    at: str
    part: str
    place: str
    what: str
    who: str
    standing: str
    remarks: tuple[str, ...]
    revision: str = ""
    in_doubt: bool = False

    @property
    def doubtful(self) -> bool:
        """Whether it is held or in doubt."""
        return self.in_doubt or self.standing == HELD


def chronicle(
    readings: Sequence[BenchReading],
    events: Sequence[BenchEvent],
    plan: Plan,
    instrument_of: Callable[[str | None], Instrument],
    unit: str = "mm",
    revisions: Revisions = UNKNOWN,
) -> list[Entry]:
    """Every reading and event of a build, oldest first; lengths in `unit` ("mm" or "in")."""
    worth = standings_of(readings, events, plan, revisions)
    by_sequence = {row.sequence: row for row in readings}
    rows = [
        _of_reading(row, worth[row.sequence], by_sequence, instrument_of(row.instrument), unit)
        for row in readings
    ]
    return sorted([*rows, *(_of_event(item) for item in events)], key=lambda entry: entry.at)


def standings_of(
    readings: Sequence[BenchReading],
    events: Iterable[BenchEvent],
    plan: Plan,
    revisions: Revisions = UNKNOWN,
) -> dict[int, str]:
    """What each reading of a build is worth today, by its sequence.

    `revisions` are those of its plan that readings were stored under.
    """
    counting, happened = standing(readings), list(events)
    void = {
        row.sequence
        for name, part in plan.parts.items()
        for row in outlived(part, (r for r in counting if r.part == name), last_planed(happened, name))
    }
    odd = {row.sequence for row in counting if revisions.otherwise(row, plan)}
    asked = [row for row in counting if row.sequence not in odd]
    last = {(row.part, row.characteristic, row.station): row.sequence for row in asked}
    places = {(part.name, c.name, s.name) for part in plan.parts.values() for c, s in part.to_read()}
    found = {}
    for row in counting:
        place = row.part, row.characteristic, row.station
        if place not in places:
            found[row.sequence] = NOT_PLANNED
        elif row.sequence in odd:
            found[row.sequence] = ASKED_OTHERWISE
        elif row.sequence in void:
            found[row.sequence] = PLANED_SINCE
        else:
            found[row.sequence] = COUNTS if last[place] == row.sequence else REPEATED
    answered = answers(readings)
    for row in readings:
        if row.sequence not in found:
            found[row.sequence] = _gone(row, answered.get(row.sequence))
    return found


def _gone(row: BenchReading, answer: BenchReading | None) -> str:
    """Why a reading that does not stand does not."""
    if row.millionths is None:
        return WITHDRAWS
    if answer is not None and answer.millionths is None:
        return WITHDRAWN
    if row.held:
        return ACCEPTED_LATER if answer is not None and answer.why == ACCEPTED else HELD
    return CORRECTED


def _of_reading(
    row: BenchReading,
    worth: str,
    by_sequence: Mapping[int, BenchReading],
    instrument: Instrument,
    unit: str,
) -> Entry:
    what = "" if row.millionths is None else amount(row.value, row.unit, unit)
    told = []
    if row.corrects is not None and row.corrects in by_sequence:
        told.append(_answers(row, by_sequence[row.corrects], unit))
    if row.suspect:
        told.append(f"doubted: it {row.suspect}")
    stretch = instrument.stretch(row.taken_at)
    in_doubt = stretch is not None and stretch.off is not None
    if stretch is not None and in_doubt:
        told.append(f"in doubt: {stretch.why}")
    if row.note:
        told.append(row.note)
    bench = f", {row.bench} bench" if row.bench else ""
    who = f"{row.instrument or 'typed'}{bench}"
    return Entry(
        row.taken_at,
        row.part,
        row.place,
        what,
        who,
        worth,
        tuple(told),
        row.plan,
        in_doubt,
    )


def _answers(row: BenchReading, earlier: BenchReading, unit: str) -> str:
    """What a row does to the one it names."""
    was = "the withdrawal" if earlier.millionths is None else amount(earlier.value, earlier.unit, unit)
    why = f" ({row.why})" if row.why and row.why != ACCEPTED else ""
    if row.millionths is None:
        return f"takes back {was}{why}"
    return f"accepts {was} as read" if row.why == ACCEPTED else f"in place of {was}{why}"


def _of_event(item: BenchEvent) -> Entry:
    told = [item.text] if item.text else []
    if item.kind == "override":
        told += [f"it overrode: {why}" for why in overrode(item)]
    if item.kind == "glue-up":
        told = [*(f"{name} {text}" for name, text in glue_words(item)), *told]
    who = item.by or item.instrument
    return Entry(
        item.at,
        item.part,
        item.place,
        _SAID.get(item.kind, item.kind),
        who,
        "",
        tuple(told),
    )


_SAID = {
    "skip": "left unread",
    "skip taken back": "to be read after all",
    "planed": "a pass of planing",
    "planed taken back": "the pass of planing taken back",
    "override": "closed gate overridden",
    "glue-up": "glued up",
}
"""Kinds of event in words; the others go by their own."""


def overrode(item: BenchEvent) -> list[str]:
    """The reasons an override went against, as they were told then."""
    named = item.body.get("reasons")
    return [str(each["why"]) for each in named] if isinstance(named, list) else []


def glue_words(item: BenchEvent) -> list[tuple[str, str]]:
    """What was kept of a glue-up, as names and texts in the order of the work."""
    body = item.body
    told = [(name, _plain(body[key])) for name, key in _GLUE if body.get(key) not in (None, "")]
    seen = body.get("squeeze_out")
    if isinstance(seen, bool):
        told.append(("squeeze-out", "seen all along" if seen else "not seen all along"))
    air = [
        f"{float(str(body[key])):g} {sign}"
        for key, sign in (("rh_percent", "% RH"), ("temp_c", "°C"))
        if body.get(key) is not None
    ]
    if air:
        told.append(("air", ", ".join(air)))
    if body.get("again") is True:
        told.append(("glued", "again"))
    if body.get("overridden") in (True, "true", "True"):
        told.append(("gate", "open by override"))
    return told


def _plain(value: object) -> str:
    """A number without a decimal nobody wrote; all else as it is."""
    return f"{value:g}" if isinstance(value, float) else str(value)


_GLUE = (
    ("glue", "glue"),
    ("batch", "batch"),
    ("open minutes", "open_minutes"),
    ("clamp minutes", "clamp_minutes"),
    ("clamps", "clamps"),
)
