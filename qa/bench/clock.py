"""Keeps the times of a part's rows in the order they were taken, whatever the computer's clock does.

Which reading counts is told by its time. So a clock that was set back (a dead battery, a wrong correction)
must not make an earlier reading the later one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from qa.record import BenchEvent, BenchReading, utc

LEAST = dt.timedelta(microseconds=1)


def onward(
    clock: dt.datetime,
    rows: Iterable[BenchReading],
    events: Iterable[BenchEvent],
    heard: dt.datetime | None = None,
) -> tuple[str, str]:
    """The time of a new row (ISO 8601 in UTC), after every reading and not before any event; and a note that
    keeps what the clock said, where it said something earlier.

    It is the moment a reading was `heard` rather than that of storing it, where nothing was done in between.
    """
    last_row = max((row.taken_at for row in rows), default="")
    last_event = max((item.at for item in events), default="")
    own = utc(clock)
    for moment in (own if heard is None else utc(min(heard, clock)), own):
        if moment > last_row and moment >= last_event:
            return moment, ""
    after = utc(dt.datetime.fromisoformat(last_row) + LEAST) if last_row else ""
    return max(after, last_event), f"the clock said {own}, not after the row before it"
