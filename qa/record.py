"""The rows of the bench record, and which of them stand."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from qa.characteristics.base import MILLION

AHEAD = dt.timedelta(days=1)
"""How far ahead of this computer's clock a row may be dated: a clock set to another zone, and no more. Common
practice, no source."""


@dataclass(frozen=True, slots=True)
class BenchReading:
    """One reading of one station, as it is kept for ever.

    `millionths` is the exact value in whole millionths of `unit` (of a millimetre: nanometres); None where
    the row withdraws the reading it `corrects`. `taken_at` is ISO 8601 in UTC. A `held` reading is kept but
    does not count until it is accepted; `suspect` says what was doubted. `plan` is the digest of the plan
    revision in force when it was stored. `sequence` is the store's order, 0 before it is stored.
    """

    taken_at: str
    build: str
    part: str
    characteristic: str
    station: str
    millionths: int | None
    unit: str = "mm"
    as_entered: str = ""
    instrument: str = ""
    bench: str = ""
    machine: str = ""
    rh_percent: float | None = None
    temp_c: float | None = None
    note: str = ""
    suspect: str = ""
    held: bool = False
    corrects: int | None = None
    why: str = ""
    plan: str = ""
    sequence: int = 0

    @property
    def value(self) -> float:
        """The value in `unit`; of a row that withdraws one, NaN."""
        return float("nan") if self.millionths is None else self.millionths / MILLION

    @property
    def place(self) -> str:
        """Characteristic and station, as a person says it."""
        return place_name(self.characteristic, self.station)

    @property
    def key(self) -> bytes:
        """What makes the reading itself, so that a retry or the same file again adds nothing."""
        amount = "" if self.millionths is None else str(self.millionths)
        corrects = "" if self.corrects is None else str(self.corrects)
        named = (self.build, self.part, self.characteristic, self.station)
        moment = (dt.datetime.fromisoformat(self.taken_at) - _EPOCH) // dt.timedelta(microseconds=1)
        return reading_key(
            moment.to_bytes(8, "big", signed=True),
            "\x1f".join((*named, amount, self.unit, self.instrument, corrects)),
        )


def place_name(characteristic: str, station: str | None) -> str:
    """Where something is read, as a person says it: characteristic and station, or the one there is."""
    return " ".join(filter(None, (characteristic, station)))


_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def reading_key(moment: bytes, text: str) -> bytes:
    """The 16-byte key of a reading: its moment in microseconds (8 bytes), and a digest of its own words.

    It begins with the moment so that a log in the order of time is stored by adding to the end of an index.
    """
    return moment + hashlib.blake2b(text.encode(), digest_size=8).digest()


@dataclass(frozen=True, slots=True)
class BenchEvent:
    """Something of the shop that is not a reading: a skipped station, a glue-up, a fix, a check.

    `body` holds what its kind needs; `at` is ISO 8601 in UTC.
    """

    at: str
    kind: str
    build: str = ""
    part: str = ""
    characteristic: str = ""
    station: str = ""
    instrument: str = ""
    text: str = ""
    by: str = ""
    body: Mapping[str, object] = field(default_factory=dict)
    sequence: int = 0

    @property
    def place(self) -> str:
        """Characteristic and station, as a person says it; "" where it is of none."""
        return place_name(self.characteristic, self.station)


def utc(moment: dt.datetime) -> str:
    """ISO 8601 in UTC to the microsecond, so that the order of the text is the order of time."""
    return moment.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def standing(readings: Iterable[BenchReading]) -> list[BenchReading]:
    """The readings that count, oldest first: not held, not withdrawn, not corrected by a later row.

    A held correction corrects nothing until it is itself accepted. Where a correction is withdrawn, what it
    had corrected counts again.
    """
    rows = sorted(readings, key=lambda row: row.sequence)
    corrects = {row.sequence: row.corrects for row in rows}
    gone: set[int] = set()
    for row in reversed(rows):
        if row.held or row.sequence in gone:
            continue
        corrected = row.corrects
        while corrected is not None:
            gone.add(corrected)
            corrected = None if row.millionths is None else corrects.get(corrected)
    counting = [r for r in rows if not r.held and r.millionths is not None and r.sequence not in gone]
    return sorted(counting, key=lambda row: (row.taken_at, row.sequence))


def answers(readings: Iterable[BenchReading]) -> dict[int, BenchReading]:
    """By its sequence, what accepts, corrects or takes back a row; none that is held or was taken back."""
    rows = list(readings)
    undone = {row.corrects for row in rows if row.millionths is None}
    found = (row for row in rows if not row.held and row.sequence not in undone)
    return {row.corrects: row for row in found if row.corrects is not None}
