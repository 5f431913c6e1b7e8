"""Walks the chains of the record and says whether it is whole, and where it is not.

It finds damage, accidents and clumsy edits. Whoever can write the database file can also compute the chains
anew; that shows only beside a head kept elsewhere: printed by `dryfit verify`, or kept with a backup.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from qa.store.chain import CHAINS, READINGS, Chain, Head, as_one_line
from qa.store.store import Store

ROWS_AT_ONCE = 10_000
TOLD = 20
_NAMES = ("kind", "build", "part", "characteristic", "station", "model")


@dataclass(frozen=True, slots=True)
class Fault:
    """A place where the record is not whole, and why; `what` row it is, and the row's own names."""

    why: str
    what: str = ""
    sequence: int | None = None
    kind: str = ""
    build: str = ""
    part: str = ""
    characteristic: str = ""
    station: str = ""
    model: str = ""

    def __str__(self) -> str:
        if self.sequence is None:
            return self.why
        names = " ".join(filter(None, (getattr(self, name) for name in _NAMES)))
        return f"{self.what} {self.sequence} ({names}): {self.why}"


@dataclass(slots=True)
class Verified:
    """What verifying came to: rows walked by table, the heads of the chains, faults counted and 20 kept."""

    counts: dict[str, int] = field(default_factory=dict)
    heads: list[Head] = field(default_factory=list)
    count: int = 0
    faults: list[Fault] = field(default_factory=list)

    @property
    def rows(self) -> int:
        """How many readings were walked."""
        return self.counts[READINGS.table.name]

    @property
    def whole(self) -> bool:
        """Whether nothing was found changed, missing or damaged."""
        return self.count == 0

    @property
    def head(self) -> str:
        """The heads of the chains as one line, to be kept elsewhere."""
        return as_one_line(self.heads)

    def add(self, fault: Fault) -> None:
        """Count a fault, and keep it where it is among the first."""
        self.count += 1
        if len(self.faults) < TOLD:
            self.faults.append(fault)


def verify(
    store: Store, kept: str | None = None, progress: Callable[[int], None] = lambda rows: None
) -> Verified:
    """Walk every row, in memory that does not grow with them.

    `kept` is a head printed or backed up earlier: the rows it names must still have that digest.
    StoreError where the store cannot be read at all.
    """
    found = Verified()
    with store.reading() as connection:
        for why in _damage(connection):
            found.add(Fault(f"the database file is damaged: {why}"))
        for chain in CHAINS:
            last = _walk(connection, chain, found, progress)
            found.heads.append(last)
            _compare_head(chain, chain.read_head(connection), last, found)
        if kept:
            _compare_kept(connection, found, kept)
    return found


def _walk(connection: sa.Connection, chain: Chain, found: Verified, progress: Callable[[int], None]) -> Head:
    """The head that the rows of a chain come to."""
    before, rows = Head(), 0
    for sequence, stored, *row in _rows(connection, chain):
        digest = bytes(stored) if isinstance(stored, bytes | memoryview) else b""
        if not _follows(chain, before, sequence, row, digest):
            found.add(_fault(chain, before.sequence, sequence, row))
        before = Head(sequence, digest)
        rows += 1
        if rows % ROWS_AT_ONCE == 0:
            progress(sum(found.counts.values()) + rows)
    found.counts[chain.table.name] = rows
    return before


def _rows(connection: sa.Connection, chain: Chain) -> Iterator[Sequence[Any]]:
    """Every row as the driver gives it: types would stumble over what was put there by hand."""
    query = str(chain.query().compile(connection.engine, compile_kwargs={"literal_binds": True}))
    yield from connection.execution_options(yield_per=ROWS_AT_ONCE).exec_driver_sql(query)


def _follows(chain: Chain, before: Head, sequence: int, row: Sequence[Any], digest: bytes) -> bool:
    try:
        return chain.link(before.digest, sequence, row) == digest
    except (AttributeError, TypeError, ValueError):  # a value of another type than the store puts there
        return False


def _fault(chain: Chain, before: int, sequence: int, row: Sequence[Any]) -> Fault:
    """A row that does not follow from the one before: changed itself, or something before it is gone."""
    named = dict(zip(chain.columns, row, strict=True))
    names = {name: str(named[name]) for name in _NAMES if name in named}
    missing = sequence - before - 1
    why = "was changed after it was stored"
    if missing == 1:
        why = f"the {chain.what} before it, {before + 1}, is missing"
    elif missing > 1:
        why = f"the {missing} {chain.what}s before it, {before + 1} to {sequence - 1}, are missing"
    return Fault(why, chain.what, sequence, **names)


def _compare_head(chain: Chain, head: Head, last: Head, found: Verified) -> None:
    """Compare the head as it is kept with the one that the rows come to."""
    missing = head.sequence - last.sequence
    if missing > 0:
        what = f"{chain.what} is" if missing == 1 else f"{missing} {chain.what}s are"
        found.add(Fault(f"the last {what} missing: {last.sequence + 1} to {head.sequence}"))
    elif head != last:
        found.add(Fault(f"the head of the {chain.what}s is kept as {head}, but they end in {last}"))


def _compare_kept(connection: sa.Connection, found: Verified, kept: str) -> None:
    """A head of one number is of the readings alone, as it was printed before the other rows were chained."""
    numbers, _, digest = kept.strip().partition(":")
    named = dict(zip(CHAINS, map(int, numbers.split(".")), strict=False))
    heads = [Head(number, _digest_of(connection, chain, number)) for chain, number in named.items()]
    gone = [
        f"{chain.what} {head.sequence}"
        for chain, head in zip(named, heads, strict=True)
        if head.sequence and not head.digest
    ]
    for what in gone:
        found.add(Fault(f"{what} of the head kept elsewhere is missing"))
    now = heads[0].digest.hex() if list(named) == [READINGS] else as_one_line(heads).partition(":")[2]
    if not gone and now != digest:
        what = ", ".join(f"{chain.what} {number}" for chain, number in named.items() if number)
        found.add(
            Fault(f"up to {what} the record is not what it was when the head kept elsewhere was written")
        )


def _digest_of(connection: sa.Connection, chain: Chain, sequence: int) -> bytes:
    column = chain.table.c[chain.digest]
    found = connection.execute(sa.select(column).where(chain.table.c.sequence == sequence)).scalar()
    return bytes(found or b"")


def _damage(connection: sa.Connection) -> list[str]:
    """What SQLite finds wrong with its file."""
    if connection.dialect.name != "sqlite":
        return []
    rows = connection.exec_driver_sql(f"PRAGMA integrity_check({TOLD})")
    return [str(row[0]) for row in rows if row[0] != "ok"]
