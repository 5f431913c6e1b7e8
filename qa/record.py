"""The rows of the bench record, and which of them stand."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from qa.characteristics.base import MILLION


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
    def key(self) -> bytes:
        """What makes the reading itself, so that a retry or the same file again adds nothing."""
        amount = "" if self.millionths is None else str(self.millionths)
        corrects = "" if self.corrects is None else str(self.corrects)
        return reading_key(
            "\x1f".join(
                (
                    self.taken_at,
                    self.build,
                    self.part,
                    self.characteristic,
                    self.station,
                    amount,
                    self.unit,
                    self.instrument,
                    corrects,
                )
            )
        )


def reading_key(text: str) -> bytes:
    """The 16-byte key of a reading's own words."""
    return hashlib.blake2b(text.encode(), digest_size=16).digest()


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


def utc(moment: dt.datetime) -> str:
    """ISO 8601 in UTC to the microsecond, so that the order of the text is the order of time."""
    return moment.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def standing(readings: Iterable[BenchReading]) -> list[BenchReading]:
    """The readings that count, oldest first: not held, not withdrawn, not corrected by a later row.

    A held correction corrects nothing until it is itself accepted.
    """
    rows = sorted(readings, key=lambda row: (row.taken_at, row.sequence))
    held_for = {row.sequence: row.corrects for row in rows if row.held}
    gone: set[int | None] = set()
    for row in rows:
        if row.held:
            continue
        corrected = row.corrects
        while corrected is not None and corrected not in gone:
            gone.add(corrected)
            corrected = held_for.get(corrected)
    return [row for row in rows if not row.held and row.millionths is not None and row.sequence not in gone]
