"""Walks the chain of readings and says whether the record is whole, and where it is not.

It finds damage, accidents and clumsy edits. Whoever can write the database file can also compute the chain
anew; that shows only beside a head kept elsewhere: printed by `dryfit verify`, or kept with a backup.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from qa.store.chain import Head, link, read_head
from qa.store.schema import STORED, readings
from qa.store.store import Store

ROWS_AT_ONCE = 10_000
TOLD = 20


@dataclass(frozen=True, slots=True)
class Fault:
    """A place where the record is not whole, and why; the reading's own names where a row is concerned."""

    why: str
    sequence: int | None = None
    build: str = ""
    part: str = ""
    characteristic: str = ""
    station: str = ""

    def __str__(self) -> str:
        if self.sequence is None:
            return self.why
        names = " ".join(filter(None, (self.build, self.part, self.characteristic, self.station)))
        return f"reading {self.sequence} ({names}): {self.why}"


@dataclass(slots=True)
class Verified:
    """What verifying came to: rows walked, the head of the chain, how many faults, and the first 20."""

    rows: int = 0
    head: Head = field(default_factory=Head)
    count: int = 0
    faults: list[Fault] = field(default_factory=list)

    @property
    def whole(self) -> bool:
        """Whether nothing was found changed, missing or damaged."""
        return self.count == 0

    def add(self, fault: Fault) -> None:
        """Count a fault, and keep it where it is among the first."""
        self.count += 1
        if len(self.faults) < TOLD:
            self.faults.append(fault)


def verify(
    store: Store, kept: str | None = None, progress: Callable[[int], None] = lambda rows: None
) -> Verified:
    """Walk every reading, in memory that does not grow with them.

    `kept` is a head printed or backed up earlier: the reading it names must still have that digest.
    StoreError where the store cannot be read at all.
    """
    found = Verified()
    with store.reading() as connection:
        for why in _damage(connection):
            found.add(Fault(f"the database file is damaged: {why}"))
        _walk(connection, found, progress)
        _compare_head(connection, found)
        if kept:
            _compare_kept(connection, found, kept)
    return found


def _walk(connection: sa.Connection, found: Verified, progress: Callable[[int], None]) -> None:
    before = Head()
    for stored in map(tuple, _rows(connection)):
        sequence, digest, row = stored[0], bytes(stored[1] or b""), stored[2:]
        if link(before.digest, sequence, row) != digest:
            found.add(_fault(before.sequence, sequence, row))
        before = Head(sequence, digest)
        found.rows += 1
        if found.rows % ROWS_AT_ONCE == 0:
            progress(found.rows)
    found.head = before


def _rows(connection: sa.Connection) -> Iterator[sa.Row[Any]]:
    columns = (readings.c.sequence, readings.c.digest, *(readings.c[name] for name in STORED))
    query = sa.select(*columns).order_by(readings.c.sequence)
    yield from connection.execution_options(yield_per=ROWS_AT_ONCE).execute(query)


def _fault(before: int, sequence: int, row: Sequence[Any]) -> Fault:
    """A row that does not follow from the one before: changed itself, or something before it is gone."""
    named = dict(zip(STORED, row, strict=True))
    names = [str(named[name]) for name in ("build", "part", "characteristic", "station")]
    missing = sequence - before - 1
    why = "was changed after it was stored"
    if missing == 1:
        why = f"the reading before it, {before + 1}, is missing"
    elif missing > 1:
        why = f"the {missing} readings before it, {before + 1} to {sequence - 1}, are missing"
    return Fault(why, sequence, *names)


def _compare_head(connection: sa.Connection, found: Verified) -> None:
    head = read_head(connection)
    if head == found.head:
        return
    if head.sequence > found.head.sequence:
        missing = head.sequence - found.head.sequence
        what = "reading is" if missing == 1 else f"{missing} readings are"
        found.add(Fault(f"the last {what} missing: {found.head.sequence + 1} to {head.sequence}"))
    else:
        found.add(Fault(f"the head of the chain is kept as {head}, but the readings end in {found.head}"))


def _compare_kept(connection: sa.Connection, found: Verified, kept: str) -> None:
    sequence, _, digest = kept.strip().partition(":")
    query = sa.select(readings.c.digest).where(readings.c.sequence == int(sequence or 0))
    stored = connection.execute(query).scalar()
    if stored is None:
        found.add(Fault(f"reading {sequence} of the head kept elsewhere is missing"))
    elif bytes(stored).hex() != digest:
        found.add(Fault("is not what it was when the head kept elsewhere was written", int(sequence)))


def _damage(connection: sa.Connection) -> list[str]:
    """What SQLite finds wrong with its file."""
    if connection.dialect.name != "sqlite":
        return []
    rows = connection.exec_driver_sql(f"PRAGMA integrity_check({TOLD})")
    return [str(row[0]) for row in rows if row[0] != "ok"]
