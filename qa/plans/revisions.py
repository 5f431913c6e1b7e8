"""Whether a reading was asked for by what its plan asks now, or for something else by the same names."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from qa.errors import PlanError
from qa.plans.plan import Plan, read_plan
from qa.record import BenchReading, standing

Place = tuple[str, str, str]
"""Part, characteristic and station."""


class Revisions:
    """The revisions of plans that readings were stored under; each is looked up once, and only if needed."""

    def __init__(self, find: Callable[[str], Plan | None]) -> None:
        self._find = find
        self._changed: dict[tuple[str, str], frozenset[Place] | None] = {}

    @classmethod
    def kept(cls, text_of: Callable[[str], str | None]) -> Revisions:
        """Of their texts by digest, as a store keeps them."""
        return cls(lambda digest: _read(digest, text_of(digest)))

    def otherwise(self, row: BenchReading, now: Plan) -> bool:
        """Whether the plan it was stored under asked for something else at its place.

        Where that plan cannot be told, its unit tells. A row that takes one back was asked for by none.
        """
        if row.plan == now.digest or row.millionths is None:
            return False
        changed = self._changed_since(row.plan, now)
        if changed is not None:
            return (row.part, row.characteristic, row.station) in changed
        part = now.parts.get(row.part)
        item = part.characteristics.get(row.characteristic) if part else None
        return item is not None and row.unit != item.unit

    def asked_now(self, rows: list[BenchReading], now: Plan) -> list[BenchReading]:
        """The rows without those read otherwise, and without what such a one that stands has corrected."""
        odd = {id(row) for row in rows if self.otherwise(row, now)}
        if not odd:
            return rows
        by_sequence, gone = {row.sequence: row for row in rows}, set(odd)
        for row in standing(rows):
            corrected = row.corrects if id(row) in odd else None
            while corrected is not None and corrected in by_sequence:
                gone.add(id(by_sequence[corrected]))
                corrected = by_sequence[corrected].corrects
        return [row for row in rows if id(row) not in gone]

    def _changed_since(self, digest: str, now: Plan) -> frozenset[Place] | None:
        """The places of a revision that ask for something else in `now`; None where it cannot be told."""
        key = digest, now.digest
        if key not in self._changed:
            then = self._find(digest)
            self._changed[key] = None if then is None else changed(then, now)
        return self._changed[key]


UNKNOWN = Revisions(lambda digest: None)
"""Where no other revision can be looked up: the unit of a reading alone tells."""


def changed(then: Plan, now: Plan) -> frozenset[Place]:
    """The places both revisions name and read differently: of another kind, otherwise, or elsewhere."""
    return frozenset(
        (name, item.name, station.name)
        for name, part in then.parts.items()
        if name in now.parts
        for item in part.characteristics.values()
        for station in item.stations
        if now.parts[name].meaning(item.name, station.name)
        not in (None, part.meaning(item.name, station.name))
    )


def otherwise_words(digest: str) -> str:
    """Why a reading of that revision does not count, to follow the name of its place."""
    return f"was read by revision {digest[:8]} of the plan, which asked for it otherwise"


@lru_cache(maxsize=100)
def _read(digest: str, text: str | None) -> Plan | None:
    """A plan as it was kept; None where it is not plain any more what it said."""
    try:
        return read_plan(text or "", digest[:8])
    except PlanError:
        return None
