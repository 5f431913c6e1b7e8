"""Whether an instrument may be believed today: its last check, and when the next is due."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from qa.instruments import Instrument
from qa.record import BenchEvent

Trust = Literal["good", "failed", "overdue", "never checked"]


@dataclass(frozen=True, slots=True)
class State:
    """An instrument's standing: its last check, the error it found (in its unit), the day the next is due."""

    instrument: str
    trust: Trust
    checked_at: str | None = None
    error: float | None = None
    due: dt.date | None = None

    @property
    def believed(self) -> bool:
        """Whether a gate may open on its readings; a new instrument may be used before its first check."""
        return self.trust in ("good", "never checked")


def state(
    instrument: Instrument, checks: Sequence[BenchEvent], first_used: str | None, now: dt.datetime
) -> State:
    """The standing of an instrument by its checks (events of kind "check", oldest first) on the day `now`.

    A check fails where its reading is further from its reference than the permissible error. It is overdue
    when it is older than `check_every_days`; so is one never made, that long after the first use.
    """
    own = [item for item in checks if item.instrument == instrument.id and "reading" in item.body]
    every = dt.timedelta(days=instrument.check_every_days) if instrument.check_every_days else None
    if not own:
        begun = day(first_used) if first_used else None
        due = begun + every if begun and every else None
        return State(instrument.id, "overdue" if due and now.date() > due else "never checked", due=due)
    last = own[-1]
    error = float(str(last.body["reading"])) - float(str(last.body["reference"]))
    due = day(last.at) + every if every else None
    if abs(error) > instrument.max_permissible_error + 1e-9:
        return State(instrument.id, "failed", last.at, error, due)
    overdue = due is not None and now.date() > due
    return State(instrument.id, "overdue" if overdue else "good", last.at, error, due)


def day(moment: str) -> dt.date:
    """The day of a moment in ISO 8601."""
    return dt.date.fromisoformat(moment[:10])
