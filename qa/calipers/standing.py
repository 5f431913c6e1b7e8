"""Whether an instrument may be believed: its checks, when the next is due, and what each found."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from qa.calipers.bias import Bias, bias
from qa.instruments import Instrument
from qa.record import AHEAD, BenchEvent, utc
from qa.uncertainty import rectangular

Trust = Literal["good", "failed", "overdue", "never checked"]

AS_FOUND, ADJUSTED = "as found", "after adjustment"

ONE_CHECK = dt.timedelta(minutes=5)
"""Readings of blocks no further apart than this are one check, where nothing says which belong together."""

BLOCK_ERROR = 0.001
"""How far a workshop gauge block may be off, mm; closed jaws are not off at all. From memory, no source."""

EXACT = 1e-9
"""Of an instrument's unit: what binary fractions are off by, so that the limit itself passes."""


@dataclass(frozen=True, slots=True)
class Point:
    """One reading of a known size, in the instrument's unit; `reference_u` its standard uncertainty."""

    reference: float
    reading: float
    reference_u: float = 0.0

    @property
    def error(self) -> float:
        return self.reading - self.reference


@dataclass(frozen=True, slots=True)
class Check:
    """One check of an instrument: when it began and ended (ISO 8601, UTC), as found or after adjustment.

    `sequence` is the store's order of its last reading, 0 before it is stored.
    """

    begun_at: str
    at: str
    state: str
    points: tuple[Point, ...]
    sequence: int = 0

    @property
    def worst(self) -> Point:
        """The point that was furthest off."""
        return max(self.points, key=lambda point: abs(point.error))

    def passed(self, instrument: Instrument) -> bool:
        """Whether no reading was further off than permitted; the limit itself passes."""
        return abs(self.worst.error) <= instrument.max_permissible_error + EXACT

    def bias(self, instrument: Instrument) -> Bias:
        """What the check says of the instrument's error."""
        references, readings = ([getattr(p, name) for p in self.points] for name in ("reference", "reading"))
        return bias(references, readings, instrument.resolution, [p.reference_u for p in self.points])


@dataclass(frozen=True, slots=True)
class State:
    """An instrument's standing: its last check, the error it found (in its unit), the day the next is due.

    `due` is None where no day is known: none is asked for, or the last check is dated ahead of the clock.
    """

    instrument: str
    trust: Trust
    checked_at: str | None = None
    error: float | None = None
    due: dt.date | None = None

    @property
    def believed(self) -> bool:
        """Whether a gate may open on its readings; a new instrument may be used before its first check."""
        return self.trust in ("good", "never checked")

    @property
    def owed(self) -> str:
        """Which check is owed, in words that follow the instrument's name; "" where none is."""
        if self.trust != "overdue":
            return ""
        if self.checked_at is None:
            return f"has no check on record, and its first was due on {self.due}"
        if self.due is None:
            return f"has its last check dated {self.checked_at[:10]}, ahead of the clock"
        return f"was due for a check on {self.due}"


def checks_of(instrument: Instrument, events: Sequence[BenchEvent]) -> list[Check]:
    """The checks of an instrument among events of any kind, oldest first.

    Readings of one check share `session` in their body, or were taken within five minutes of each other in
    the same state. An event without a number for reference and reading is passed over.
    """
    groups: list[list[tuple[BenchEvent, Point]]] = []
    own = [item for item in events if item.kind == "check" and item.instrument == instrument.id]
    for item in sorted(own, key=lambda item: (item.at, item.sequence)):
        point = _point(item, instrument)
        if point is None:
            continue
        if groups and _together(groups[-1][-1][0], item):
            groups[-1].append((item, point))
        else:
            groups.append([(item, point)])
    return [_check(group) for group in groups]


def _check(group: Sequence[tuple[BenchEvent, Point]]) -> Check:
    first, last = group[0][0], group[-1][0]
    return Check(first.at, last.at, _state_of(first), tuple(point for _, point in group), last.sequence)


def _together(before: BenchEvent, item: BenchEvent) -> bool:
    sessions = before.body.get("session"), item.body.get("session")
    if any(sessions):
        return sessions[0] == sessions[1]
    first, second = (dt.datetime.fromisoformat(each.at) for each in (before, item))
    return _state_of(before) == _state_of(item) and second - first <= ONE_CHECK


def _state_of(item: BenchEvent) -> str:
    return ADJUSTED if item.body.get("state") == ADJUSTED else AS_FOUND


def _point(item: BenchEvent, instrument: Instrument) -> Point | None:
    """A reading of a known size, with the correction in force then; None where the event holds none.

    An event that names no correction has that of the instrument now.
    """
    try:
        reference = float(str(item.body["reference"]))
        correction = float(str(item.body.get("correction", instrument.correction)))
        reading = float(str(item.body["reading"])) + correction
        given = item.body.get("reference_uncertainty")
        usual = rectangular(BLOCK_ERROR) if reference and instrument.quantity == "length" else 0.0
        u = usual if given is None else float(str(given))
    except (KeyError, ValueError):
        return None
    finite = all(map(math.isfinite, (reference, reading, u)))
    return Point(reference, reading, u) if finite and u >= 0 else None


def state(
    instrument: Instrument, checks: Sequence[BenchEvent], first_used: str | None, now: dt.datetime
) -> State:
    """The standing of an instrument by its checks (events of kind "check") on the day `now`.

    A check fails where any of its readings is further from its reference than the permissible error. It is
    overdue when it is older than `check_every_days`, or dated ahead, so that nobody knows how old it is; so
    is one never made, that long after `first_used`: the day its first reading was stored. A log of past years
    thus owes no check that nobody asked for then.
    """
    made = checks_of(instrument, checks)
    interval = every(instrument)
    if not made:
        begun = day(first_used) if first_used else None
        due = begun + interval if begun and interval else None
        return State(instrument.id, "overdue" if due and now.date() > due else "never checked", due=due)
    last = newest(made)
    error = last.worst.error
    ahead = last.at > utc(now + AHEAD)
    due = day(last.at) + interval if interval and not ahead else None
    if not last.passed(instrument):
        return State(instrument.id, "failed", last.at, error, due)
    overdue = ahead or (due is not None and now.date() > due)
    return State(instrument.id, "overdue" if overdue else "good", last.at, error, due)


def newest(made: Sequence[Check]) -> Check:
    """The check stored last, whatever its date: a clock may have been wrong."""
    return max(made, key=lambda check: (check.sequence, check.at))


def no_check_before(made: Check, instrument: Instrument, events: Sequence[BenchEvent]) -> bool:
    """Whether a check after adjustment follows none that failed, so that nothing tells how far off it was."""
    before = [check for check in checks_of(instrument, events) if check.sequence < made.sequence]
    return made.state == ADJUSTED and (not before or newest(before).passed(instrument))


def every(instrument: Instrument) -> dt.timedelta | None:
    """How often an instrument is to be checked; None where its description does not say."""
    return dt.timedelta(days=instrument.check_every_days) if instrument.check_every_days else None


def day(moment: str) -> dt.date:
    """The day of a moment in ISO 8601."""
    return dt.date.fromisoformat(moment[:10])
