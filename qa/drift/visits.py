"""The readings of one build's part, parted into visits: as made, and read again days later."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from qa.record import BenchReading, standing

APART = dt.timedelta(hours=24)
"""A station read again later than this is another visit, not a correction: common practice, no source."""

Latest = Mapping[tuple[str, str], BenchReading]


@dataclass(frozen=True, slots=True)
class Visits:
    """By (characteristic, station): the reading that counts of the first visit, and of the next one."""

    made: Latest
    later: Latest


def visits(rows: Iterable[BenchReading]) -> Visits:
    """Part a build's readings of one part into its first visit and the one after it."""
    by_place: dict[tuple[str, str], list[BenchReading]] = {}
    for row in standing(rows):
        by_place.setdefault((row.characteristic, row.station), []).append(row)
    made, later = {}, {}
    for place, taken in by_place.items():
        made[place], again = _first(taken)
        if again:
            later[place] = _first(again)[0]
    return Visits(made, later)


def _first(rows: list[BenchReading]) -> tuple[BenchReading, list[BenchReading]]:
    """The last reading of the first visit, and the readings after it; rows are oldest first."""
    if len(rows) == 1:
        return rows[0], []
    end = dt.datetime.fromisoformat(rows[0].taken_at) + APART
    last = max(i for i, row in enumerate(rows) if dt.datetime.fromisoformat(row.taken_at) <= end)
    return rows[last], rows[last + 1 :]
