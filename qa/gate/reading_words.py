"""The gate's sentences on readings that are missing, doubted, of another plan, too old or too new."""

from __future__ import annotations

import datetime as dt

from qa.bench.speech import say_held
from qa.judge import Judged
from qa.plans.plan import Part
from qa.plans.revisions import otherwise_words
from qa.record import BenchReading


def not_measured(item: Judged, read_before_planing: bool = False) -> str:
    """A value that no reading tells, or none since the part was planed."""
    if read_before_planing:
        return f"{item.place} was last read before the part was planed: read it again."
    return f"{item.place} has not been measured; not measured is never fit."


def nothing_to_read(part: Part) -> str:
    """A part of which the plan asks no reading."""
    return (
        f"The plan asks no reading of {part.name}, so nothing tells that it fits: give it a characteristic."
    )


def held(part: Part, row: BenchReading, unit: str) -> str:
    """A doubted reading that waits for an answer."""
    return f"{_whose(part, row)}{say_held(row, unit)}."


def read_otherwise(part: Part, row: BenchReading) -> str:
    """A reading that an earlier revision of the plan asked for otherwise."""
    return f"{_whose(part, row)}{row.place} {otherwise_words(row.plan)}: read it again."


def too_old(part: Part, count: int, oldest: BenchReading, now: dt.datetime, life: dt.timedelta) -> str:
    """Readings older than a reading holds, the oldest named."""
    told = span(now - dt.datetime.fromisoformat(oldest.taken_at))
    at = f" at {shown_rh(oldest.rh_percent)} % RH" if oldest.rh_percent is not None else ""
    are = "1 reading is" if count == 1 else f"{count} readings are"
    place = f"{_whose(part, oldest)}{oldest.place}"
    return f"{are} too old: {place} was taken {told} ago{at}, and a reading holds {span(life)}."


def ahead(count: int, newest: BenchReading) -> str:
    """Readings dated ahead of this computer's clock, the newest named."""
    are = "1 reading is" if count == 1 else f"{count} readings are"
    return f"{are} dated ahead of the clock, up to {newest.taken_at[:10]}: set the clock and read again."


def shown_rh(percent: float) -> str:
    """A relative humidity as a person writes it."""
    return f"{round(percent, 1):g}"


def _whose(part: Part, row: BenchReading) -> str:
    """The part a reading is of, where that is another, to go before its place."""
    return "" if row.part == part.name else f"{row.part} "


def span(time: dt.timedelta) -> str:
    """How long, in hours or days."""
    hours = time.total_seconds() / 3600
    if hours > 72:
        return f"{hours / 24:.0f} days"
    return "1 hour" if round(hours, 1) == 1 else f"{round(hours, 1 if hours < 10 else 0):g} hours"
