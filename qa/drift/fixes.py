"""Fixes the builder states: what was put right and when, so that charts begin anew from there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from qa.drift.track import Track
from qa.errors import CannotSay
from qa.record import BenchEvent, utc
from qa.store.store import Store

KIND = "fix"


@dataclass(frozen=True, slots=True)
class Fix:
    """A stated fix: when (ISO 8601 in UTC), what was done, and what it was done to ("" where not said)."""

    at: str
    text: str
    machine: str = ""
    part: str = ""
    characteristic: str = ""
    instrument: str = ""

    def concerns(self, track: Track) -> bool:
        """Whether the parts themselves come out otherwise from here on, so that a new baseline is due.

        A caliper put right changes readings, not parts, and what is said of no machine or part may concern
        anything: both are drawn, and no more.
        """
        if self.instrument:
            return False
        if self.part:
            return self.part == track.part and self.characteristic in ("", track.characteristic)
        machines = {one.machine for one in track.made if one.machine}
        if self.machine:
            return self.machine in machines
        return any(self.text.casefold().startswith(f"{machine.casefold()}:") for machine in machines)

    def drawn_on(self, track: Track) -> bool:
        """Whether it is drawn on a series: it concerns it, its caliper, or nothing in particular."""
        if self.instrument:
            return track.absolute and any(one.instrument == self.instrument for one in track.made)
        return self.concerns(track) or not (self.part or self.machine)


def fixes(store: Store) -> list[Fix]:
    """Every fix stated, oldest first."""
    found = [
        Fix(
            event.at, event.text, str(event.body.get("machine", "")), event.part,
            event.characteristic, event.instrument,
        )
        for event in store.events(KIND)
    ]  # fmt: skip
    return sorted(found, key=lambda fix: fix.at)


def state_fix(
    store: Store,
    text: str,
    on: dt.datetime,
    machine: str = "",
    part: str = "",
    characteristic: str = "",
    instrument: str = "",
) -> int:
    """Keep a fix for ever; CannotSay where nothing is said of what was done."""
    if not text.strip():
        raise CannotSay("a fix needs words for what was done, such as 'new fence'")
    body = {"machine": machine} if machine else {}
    return store.add_event(
        BenchEvent(
            utc(on), KIND, part=part, characteristic=characteristic, instrument=instrument,
            text=text.strip(), body=body,
        )
    )  # fmt: skip


def first_after(fix: Fix, track: Track) -> int | None:
    """Index of the first build of a track made after a fix; None where there is none yet."""
    return next((i for i, one in enumerate(track.made) if one.taken_at >= fix.at), None)


def baselines(stated: Sequence[Fix], track: Track) -> list[int]:
    """Indices of the builds a new baseline begins at."""
    found = (first_after(fix, track) for fix in stated if fix.concerns(track))
    return sorted({index for index in found if index})
