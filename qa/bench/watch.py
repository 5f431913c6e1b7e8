"""Watches readings as they come: doubled, out of range, jaws closed, a slip, a jump, a frozen display.

Nothing here drops a reading. What is doubted is said, and the reading is kept but does not count until it is
accepted.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from statistics import median

from qa.arithmetic.doubt import WITHIN, doubt
from qa.bench.expected import Expected
from qa.instruments import Instrument
from qa.record import BenchReading, answers, standing

DOUBLED_WITHIN = 1.5
"""Seconds within which the same value again looks like a button pressed twice. Common practice, no source."""

STUCK_AFTER = 5
"""As many equal readings in a row at different places look like a frozen display. Common practice, no
source."""

JUMP_OF_WIDTH, JUMP_OF_TARGET = 5.0, 0.05
"""A size further from its neighbours than either, of the tolerance's width and of the target, is a jump.
Common practice, no source."""

FAR = 3.0
"""A reading more than so many times what is expected, or less than that part of it, is of another place.
Common practice, no source."""

FAR_OVER = 10.0
"""A gap, a bevel or a corner so many times what it may be at most looks like a slip. Common practice, no
source."""

STEPS_OFF = 20
"""Closed jaws that do not come back to zero are off by so many display steps at most. Common practice, no
source."""

ACCEPTED = "accepted as read"


def watch(
    row: BenchReading,
    earlier: Sequence[BenchReading],
    expected: Expected,
    instrument: Instrument,
    *,
    by_line: bool = False,
) -> str:
    """Why a reading is doubted, in words that go on after its value, or "" where it is not.

    `earlier` holds the part's rows so far, oldest first, held ones too. `by_line` says that the instrument
    sent or typed the reading itself: only then are a doubled and a frozen one looked for, as a person may
    well type the same twice.
    """
    near = _same_pass(row, earlier)
    shown = round(row.value - instrument.correction, 6)
    found = _beyond(shown, instrument) or _slip(row.value, expected, near)
    found = found or _closed(row, expected, instrument) or _far(row.value, expected)
    if found:
        return found
    by_it = [item for item in earlier if item.instrument == row.instrument and item.millionths is not None]
    if by_line and by_it:
        found = _doubled(row, by_it[-1])
    found = found or _jump(row, near, expected)
    return found or (_stuck(row, by_it) if by_line and (row.value or expected.sized) else "")


def beyond_range(instrument: Instrument, value: float) -> str | None:
    """Why an instrument cannot have read a value (in its unit), in words that go on after it; None if it can.

    Nothing is said where its range is not known. Zero and a sign are no reason: a leaf that does not enter is
    written 0, and a gap at the other end of the blade with a minus.
    """
    if instrument.span is None or value == 0:
        return None
    low, high = instrument.span
    if low <= value <= high or low <= -value <= high:
        return None
    return f"is outside what {instrument.id} can read, {low:g} to {high:g} {instrument.unit}"


def waiting(rows: Iterable[BenchReading]) -> list[BenchReading]:
    """The held readings that wait for an answer, oldest first.

    One is answered when it is accepted, taken back, or its place is read later by a reading that counts.
    """
    every = list(rows)
    answered = answers(every)
    last = {(row.part, row.characteristic, row.station): row.taken_at for row in standing(every)}
    return [
        row
        for row in every
        if row.held
        and row.sequence not in answered
        and last.get((row.part, row.characteristic, row.station), "") < row.taken_at
    ]


def _beyond(value: float, instrument: Instrument) -> str:
    found = beyond_range(instrument, value)
    return f"{found}: another instrument?" if found else ""


def _slip(value: float, expected: Expected, near: Sequence[float]) -> str:
    """A unit or a decimal place away from what is expected, or from the other places where they agree."""
    if expected.within(value):
        return ""
    agreed = median(near) if near and 0 < max(near) <= (1 + WITHIN) * min(near) else None
    return doubt(value, expected.near, expected.named) or doubt(value, agreed, "what the other places read")


def _closed(row: BenchReading, expected: Expected, instrument: Instrument) -> str:
    """A size that is nearly nothing: closed jaws, and whether they read zero."""
    if not expected.sized or expected.near is None or row.value >= expected.near / FAR:
        return ""
    if abs(row.value) <= instrument.resolution / 2:
        return "is zero: were the jaws closed, or zero pressed?"
    if abs(row.value) <= STEPS_OFF * instrument.resolution:
        checked = instrument.id or "the instrument"
        return (
            f"looks like closed jaws that do not come back to zero: wipe and close them, and check {checked}."
        )
    return "is below zero: was zero pressed with the jaws open?" if row.value < 0 else ""


def _far(value: float, expected: Expected) -> str:
    """So far from what is expected that it is hardly of this place."""
    if expected.within(value) or expected.lower is expected.upper is None:
        return ""
    if expected.near is None:
        over = abs(value) > FAR_OVER * (expected.upper or 0)
        return f"is more than {FAR_OVER:.0f} times what it may be: a slip, or another place?" if over else ""
    if value > FAR * expected.near:
        return f"is more than {FAR:.0f} times {expected.named}: another place, or another part?"
    if value < expected.near / FAR:
        return f"is less than a third of {expected.named}: another place, or another instrument?"
    return ""


def _doubled(row: BenchReading, last: BenchReading) -> str:
    before, after = (dt.datetime.fromisoformat(item.taken_at) for item in (last, row))
    apart = (after - before).total_seconds()
    same = row.millionths == last.millionths and row.unit == last.unit
    if not same or not 0 <= apart <= DOUBLED_WITHIN:
        return ""
    return f"came again {apart:.1f} s after {last.place}: was the button pressed twice?"


def _jump(row: BenchReading, near: Sequence[float], expected: Expected) -> str:
    if len(near) < 2 or not expected.sized or expected.near is None or expected.width is None:
        return ""
    middle = median(near)
    allowed = max(JUMP_OF_WIDTH * expected.width, JUMP_OF_TARGET * abs(expected.near))
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
