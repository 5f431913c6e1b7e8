"""The file of a spool: a store whose numbers are never the server's, and what of it was handed over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeGuard, TypeVar

import sqlalchemy as sa

from qa.errors import RowRefused
from qa.record import BenchEvent, BenchReading
from qa.store.address import SQLITE
from qa.store.chain import EVENTS, READINGS, Head, some_at_a_time
from qa.store.engine import make_engine
from qa.store.schema import events, meta, plans, readings
from qa.store.store import Store, ensure_tables

READINGS_FROM, EVENTS_FROM = 10**12, 2 * 10**12
T = TypeVar("T")
_HANDED = {BenchReading: "handed readings", BenchEvent: "handed events"}
_TABLES = {BenchReading: readings, BenchEvent: events}


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A revision of a plan as a store keeps it, whether or not this program could read it."""

    digest: str
    model: str
    text: str


def is_spooled(number: object) -> TypeGuard[int]:
    """Whether a sequence is one of a spool."""
    return isinstance(number, int) and number > READINGS_FROM


class Spool(Store):
    """An open spool, made where there is none. What is handed over stays in it, marked."""

    def __init__(self, path: Path) -> None:
        super().__init__(make_engine(f"{SQLITE}{path.absolute()}"))
        ensure_tables(self.engine)
        with self.writing() as connection:
            for chain, first in ((READINGS, READINGS_FROM), (EVENTS, EVENTS_FROM)):
                if chain.read_head(connection).sequence < first:
                    chain.write_head(connection, Head(first))

    def waiting(self) -> int:
        """How many rows were not yet handed over."""
        return sum(map(self.waiting_of, _TABLES))

    def waiting_of(self, kind: type[BenchReading] | type[BenchEvent]) -> int:
        """How many readings, or how many events, were not yet handed over."""
        table = _TABLES[kind]
        query = sa.select(sa.func.count()).select_from(table)
        with self.reading() as connection:
            after = self._noted(connection, _HANDED[kind])
            return connection.execute(query.where(table.c.sequence > after)).scalar_one()

    def waiting_readings(self) -> list[BenchReading]:
        """Those not yet handed over, in their order."""
        with self.reading() as connection:
            after = self._noted(connection, _HANDED[BenchReading])
        return self.readings(after=max(after, READINGS_FROM))

    def waiting_events(self) -> list[BenchEvent]:
        """Those not yet handed over, in their order."""
        with self.reading() as connection:
            after = self._noted(connection, _HANDED[BenchEvent])
        return [item for item in self.events() if item.sequence > after]

    def plan(self, digest: str) -> KeptPlan:
        """The revision a row was spooled under; RowRefused where the spool has lost it."""
        query = sa.select(plans.c.digest, plans.c.model, plans.c.text).where(plans.c.digest == digest)
        with self.reading() as connection:
            found = connection.execute(query).first()
        if found is None:
            raise RowRefused(f"its plan {digest[:16]} is not in the spool")
        return KeptPlan(*found)

    def handed(self, row: BenchReading | BenchEvent, sequence: int) -> None:
        """Keep that a row is on the server under that sequence; 0 where the server refused it."""
        with self.writing() as connection:
            _note(connection, f"as {row.sequence}", sequence)
            _note(connection, _HANDED[type(row)], row.sequence)

    def server_number(self, sequence: T) -> T | int:
        """The server's number of a row that was handed over; whatever else it is given, as it is."""
        if not is_spooled(sequence):
            return sequence
        with self.reading() as connection:
            return self._noted(connection, f"as {sequence}") or sequence

    def handed_as(self, sequences: Sequence[int]) -> dict[int, int]:
        """The server's numbers of those rows that were handed over; 0 where it refused the row."""
        found: dict[int, int] = {}
        with self.reading() as connection:
            for some in some_at_a_time([f"as {sequence}" for sequence in sequences]):
                query = sa.select(meta.c.name, meta.c.value).where(meta.c.name.in_(some))
                found |= {int(name[3:]): int(value) for name, value in connection.execute(query)}
        return found

    def refused(self) -> list[BenchReading | BenchEvent]:
        """The rows that the server did not take; they stay here."""
        rows: list[BenchReading | BenchEvent] = [*self.readings(), *self.events()]
        handed = self.handed_as([row.sequence for row in rows])
        return [row for row in rows if handed.get(row.sequence) == 0]

    @staticmethod
    def _noted(connection: sa.Connection, name: str) -> int:
        found = connection.execute(sa.select(meta.c.value).where(meta.c.name == name)).scalar()
        return int(found or 0)


def fits(row: object, wanted: Mapping[str, str | None]) -> bool:
    """Whether a row has the values wanted by name, None asking nothing."""
    return all(value is None or getattr(row, name) == value for name, value in wanted.items())


def merged(*lists: Iterable[Any]) -> list[Any]:
    """Each row once, in the order of sequences; those of the spool are higher than any of the server."""
    found = {row.sequence: row for rows in lists for row in rows}
    return [found[sequence] for sequence in sorted(found)]


def time_of(row: BenchReading | BenchEvent) -> str:
    """When it was taken or happened, ISO 8601."""
    return row.taken_at if isinstance(row, BenchReading) else row.at


def _note(connection: sa.Connection, name: str, value: int) -> None:
    connection.execute(sa.delete(meta).where(meta.c.name == name))
    connection.execute(sa.insert(meta).values(name=name, value=str(value)))
