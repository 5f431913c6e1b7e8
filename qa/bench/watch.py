"""Watches readings as they come: doubled, out of range, jaws closed, a jump, a display that does not move.

Nothing here drops a reading. What is doubted is said, and the reading is kept but does not count until it is
accepted.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from qa.arithmetic.doubt import doubt
from qa.record import BenchReading, standing

DOUBLED_WITHIN = 1.5
"""Seconds within which the same value again looks like a button pressed twice. Common practice, no source."""

STUCK_AFTER = 5
"""As many equal readings in a row at different places look like a frozen display. Common practice, no
source."""

JUMP_OF_WIDTH, JUMP_OF_TARGET = 5.0, 0.05
"""A size further from its neighbours than either, of the tolerance's width and of the target, is a jump.
Common practice, no source."""

CLOSED = 0.02
"""Of the target: below it the jaws were rather closed than on the wood. Common practice, no source."""

ACCEPTED = "accepted as read"


@dataclass(frozen=True, slots=True)
class Expected:
    """What a reading should be: target and width of tolerance in its unit, what the instrument can read.

    `step` is the display's; `by_line` says that an instrument sent it rather than a person typed it.
    """

    target: float | None = None
    width: float | None = None
    span: tuple[float, float] | None = None
    step: float = 0.01
    by_line: bool = False
    doubled_within: float = DOUBLED_WITHIN


def watch(row: BenchReading, earlier: Sequence[BenchReading], expected: Expected) -> str:
    """Why a reading is doubted, in words that go on after its value, or "" where it is not.

    `earlier` holds the part's rows so far, oldest first, held ones too. `target` is given for sizes read
    between the jaws only: without it, only the range and a doubled reading are looked at.
    """
    found = _closed(row, expected) or _beyond(row, expected) or doubt(row.value, expected.target)
    if found:
        return found
    by_it = [item for item in earlier if item.instrument == row.instrument and item.millionths is not None]
    if expected.by_line and by_it:
        found = _doubled(row, by_it[-1], expected.doubled_within)
    if not found and expected.target is not None:
        found = _jump(row, earlier, expected) or (_stuck(row, by_it) if expected.by_line else "")
    return found


def waiting(rows: Iterable[BenchReading]) -> list[BenchReading]:
    """The held readings that wait for an answer, oldest first.

    One is answered when it is accepted, taken back, or its place is read later by a reading that counts.
    """
    every = list(rows)
    answered = {row.corrects for row in every}
    last = {(row.part, row.characteristic, row.station): row.taken_at for row in standing(every)}
    return [
        row
        for row in every
        if row.held
        and row.sequence not in answered
        and last.get((row.part, row.characteristic, row.station), "") < row.taken_at
    ]


def _beyond(row: BenchReading, expected: Expected) -> str:
    if expected.span is None or expected.span[0] <= row.value <= expected.span[1]:
        return ""
    low, high = expected.span
    return f"is outside what {row.instrument} can read, {low:g} to {high:g} {row.unit}: another instrument?"


def _closed(row: BenchReading, expected: Expected) -> str:
    """A size far too small for the place: closed jaws, and whether they read zero."""
    if expected.target is None or expected.target <= 0 or row.value >= CLOSED * expected.target:
        return ""
    if abs(row.value) <= expected.step / 2:
        return "is zero: were the jaws closed, or zero pressed?"
    if abs(row.value) <= 20 * expected.step:
        return (
            "looks like closed jaws that do not come back to zero: wipe them, close them, and check the "
            f"instrument with `dryfit caliper check {row.instrument}` before going on."
        )
    return "is below zero: was zero pressed with the jaws open?" if row.value < 0 else ""


def _doubled(row: BenchReading, last: BenchReading, within: float) -> str:
    apart = (_moment(row.taken_at) - _moment(last.taken_at)).total_seconds()
    same = row.millionths == last.millionths and row.unit == last.unit
    if not same or not 0 <= apart <= within:
        return ""
    place = f"{last.characteristic} {last.station}".strip()
    return f"came again {apart:.1f} s after {place}: was the button pressed twice?"


def _jump(row: BenchReading, earlier: Sequence[BenchReading], expected: Expected) -> str:
    near = _same_pass(row, earlier)
    if len(near) < 2 or expected.target is None or expected.width is None:
        return ""
    middle = median(near)
    allowed = max(JUMP_OF_WIDTH * expected.width, JUMP_OF_TARGET * abs(expected.target))
    if abs(row.value - middle) <= allowed:
        return ""
    away = f"{abs(row.value - middle):.2f} {row.unit}"
    return f"is {away} from the other places read: a weak cell, dirt, or a slip?"


def _same_pass(row: BenchReading, earlier: Sequence[BenchReading]) -> list[float]:
    """The latest value at each other place that was read more often than this one: this pass's readings."""
    values: dict[str, list[float]] = {}
    for item in standing(earlier):
        if item.characteristic == row.characteristic and item.sequence != row.corrects:
            values.setdefault(item.station, []).append(item.value)
    here = len(values.pop(row.station, []))
    return [found[-1] for found in values.values() if len(found) > here]


def _stuck(row: BenchReading, by_it: Sequence[BenchReading]) -> str:
    """The same value at one place after another; once accepted, it is not asked about again in that run."""
    run = 1
    places = {(row.characteristic, row.station)}
    for item in reversed(by_it):
        if item.millionths != row.millionths or item.why == ACCEPTED:
            break
        if (item.characteristic, item.station) not in places:
            places.add((item.characteristic, item.station))
            run += 1
    if run < STUCK_AFTER:
        return ""
    return f"is the same for the {run}th place in a row: is the display held or frozen?"


def _moment(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)
