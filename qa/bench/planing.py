"""Passes of planing a part: which of its readings they leave standing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from qa.characteristics import kinds
from qa.plans.plan import Part
from qa.record import BenchEvent, BenchReading

PLANED, TAKEN_BACK = "planed", "planed taken back"


def planings(events: Iterable[BenchEvent], part: str) -> list[BenchEvent]:
    """The passes of planing of a part that stand, oldest first."""
    own = [item for item in events if item.part == part and item.kind in (PLANED, TAKEN_BACK)]
    gone = {item.body.get("of") for item in own if item.kind == TAKEN_BACK}
    found = [item for item in own if item.kind == PLANED and item.sequence not in gone]
    return sorted(found, key=lambda item: (item.at, item.sequence))


def last_planed(events: Iterable[BenchEvent], part: str) -> str:
    """When a part was last planed, in ISO 8601 UTC; "" where it never was."""
    found = planings(events, part)
    return found[-1].at if found else ""


def outlived(part: Part, rows: Iterable[BenchReading], planed_at: str) -> list[BenchReading]:
    """The readings that a pass of planing has overtaken: every one before it but of moisture.

    Planing changes sizes, and every shape, gap and bevel read on the same faces with them.
    """
    return [row for row in rows if row.taken_at < planed_at and is_changed(part, row.characteristic)]


def still_holding(part: Part, rows: Sequence[BenchReading], planed_at: str) -> list[BenchReading]:
    """The readings that a pass of planing leaves standing."""
    gone = {id(row) for row in outlived(part, rows, planed_at)}
    return [row for row in rows if id(row) not in gone]


def is_changed(part: Part, characteristic: str) -> bool:
    """Whether planing changes what a characteristic reads; one the plan no longer names, it does."""
    item = part.characteristics.get(characteristic)
    return item is None or kinds()[item.kind].planing_changes
