"""Chains every row to the one stored before it in its table, so that a row changed or lost shows.

Each row keeps a digest over the digest of the row before it and over its own columns as text. The newest
sequence and digest of each table, the head of its chain, are kept apart, so that rows missing at the end show
too.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from qa.store.schema import builds, events, meta, plans, readings

DIGEST_BYTES = 16
NAMED_AT_ONCE = 10_000
_READ_HEAD = f"SELECT value FROM {meta.name} WHERE name = '%s'"  # noqa: S608 - names of ours
_WRITE_HEAD = (
    f"INSERT INTO {meta.name} (name, value) VALUES ('%s', ?) "  # noqa: S608 - names of ours
    "ON CONFLICT (name) DO UPDATE SET value = excluded.value"
)


@dataclass(frozen=True, slots=True)
class Head:
    """The newest row's sequence and digest; 0 and none where there is no row."""

    sequence: int = 0
    digest: bytes = b""

    def __str__(self) -> str:
        return f"{self.sequence}:{self.digest.hex()}"


class Chain:
    """A table whose rows are chained.

    `digest` is the column of the digests, `head` the name in `meta` of the newest, and `key` the column of
    which no two rows are alike, if any. Rows are tuples in the order of `columns`: JSON as text, and neither
    sequence nor digest.
    """

    def __init__(self, table: sa.Table, digest: str, head: str, key: str = "") -> None:
        self.table, self.digest = table, digest
        own = [column for column in table.columns if column.name not in ("sequence", digest)]
        self.columns = tuple(column.name for column in own)
        self._bytes, self._floats, self._flags, self._json = (
            [n for n, column in enumerate(own) if isinstance(column.type, kind)]
            for kind in (sa.LargeBinary, sa.Float, sa.Boolean, sa.JSON)
        )
        self._as_text = "\x1f".join(["%s"] * (len(own) + 1))
        names = ("sequence", digest, *self.columns)
        named = ", ".join(f'"{name}"' for name in names)
        self._insert = f"INSERT INTO {table.name} ({named}) VALUES ({', '.join('?' * len(names))})"  # noqa: S608
        once = f" ON CONFLICT ({key}) DO NOTHING" if key else ""
        self._insert_one = f"{self._insert}{once} RETURNING sequence"
        self._read_head, self._write_head = _READ_HEAD % head, _WRITE_HEAD % head

    @property
    def what(self) -> str:
        """What one row is called: reading, event, build, plan."""
        return self.table.name.removesuffix("s")

    def link(self, previous: bytes, sequence: int, row: Sequence[Any]) -> bytes:
        """The digest of a row after the digest of the row before it.

        BLAKE2b (RFC 7693) of 16 bytes. Values are written so that both databases agree: numbers as Python
        writes them, the names in JSON in their order.
        """
        values = list(row)
        for n in self._bytes:
            values[n] = values[n].hex()
        for n in self._floats:
            if values[n] is not None:  # an int becomes a float, and -0.0 the 0.0 that SQLite makes of it
                values[n] += 0.0
        for n in self._flags:
            values[n] = bool(values[n])
        for n in self._json:
            values[n] = json.dumps(json.loads(values[n]), sort_keys=True)
        text = self._as_text % (sequence, *values)
        return hashlib.blake2b(previous + text.encode(), digest_size=DIGEST_BYTES).digest()

    def chained(self, head: Head, rows: Iterable[Sequence[Any]]) -> list[tuple[Any, ...]]:
        """Rows, each with its sequence and digest before it."""
        sequence, digest = head.sequence, head.digest
        found = []
        for row in rows:
            sequence += 1
            digest = self.link(digest, sequence, row)
            found.append((sequence, digest, *row))
        return found

    def query(self) -> sa.Select[Any]:
        """Sequence, digest and row of every row in the order of the chain; a row without a sequence first."""
        own = [self.table.c[name] for name in (self.digest, *self.columns)]
        as_text = [sa.cast(column, sa.Text) if isinstance(column.type, sa.JSON) else column for column in own]
        number = self.table.c.sequence
        sequence = sa.func.coalesce(number, 0).label("sequence") if number.nullable else number
        return sa.select(sequence, *as_text).order_by(sequence)

    def read_head(self, connection: sa.Connection) -> Head:
        """The head of the chain as it is kept."""
        found = connection.exec_driver_sql(self._read_head).scalar()
        if not found:
            return Head()
        sequence, _, digest = str(found).partition(":")
        return Head(int(sequence), bytes.fromhex(digest))

    def write_head(self, connection: sa.Connection, head: Head) -> None:
        """Keep the head of the chain, in the transaction that stored its row."""
        connection.exec_driver_sql(_statement(connection, self._write_head), (str(head),))

    def insert(self, connection: sa.Connection, row: tuple[Any, ...]) -> int | None:
        """Store one row and give its sequence; None where its key is there already."""
        (new,) = self.chained(self.read_head(connection), [row])
        found = connection.exec_driver_sql(_statement(connection, self._insert_one), new).scalar()
        if found is not None:
            self.write_head(connection, Head(new[0], new[1]))
        return None if found is None else int(found)

    def insert_new(self, connection: sa.Connection, rows: Sequence[tuple[Any, ...]]) -> None:
        """Store rows none of which is there."""
        new = self.chained(self.read_head(connection), rows)
        if new:
            connection.exec_driver_sql(_statement(connection, self._insert), new)
            self.write_head(connection, Head(new[-1][0], new[-1][1]))


READINGS = Chain(readings, "digest", "head", "key")
EVENTS = Chain(events, "link", "head of events")
BUILDS = Chain(builds, "link", "head of builds", "build")
PLANS = Chain(plans, "link", "head of plans", "digest")
CHAINS = (READINGS, EVENTS, BUILDS, PLANS)


def as_one_line(heads: Sequence[Head]) -> str:
    """The heads of `CHAINS` as one line, to be kept elsewhere: their sequences, and one digest over all."""
    digests = b"".join(head.digest for head in heads)
    numbers = ".".join(str(head.sequence) for head in heads)
    return f"{numbers}:{hashlib.blake2b(digests, digest_size=DIGEST_BYTES).hexdigest()}"


def insert_many(connection: sa.Connection, rows: Sequence[tuple[Any, ...]]) -> int:
    """Store readings in the order of `STORED`, passing over keys already there; gives how many were new.

    They are passed over before they are chained, for a row that the database left out would break the chain.
    """
    new = _not_stored(connection, rows)
    READINGS.insert_new(connection, new)
    return len(new)


def _not_stored(connection: sa.Connection, rows: Sequence[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """The rows whose keys are not stored, each key once.

    A key begins with its moment, so that most logs fall where nothing is stored: one look at the index.
    """
    keys = {row[0] for row in rows}
    if not keys:
        return []
    between = readings.c.key.between(min(keys), max(keys))
    stored = connection.execute(sa.select(readings.c.key).where(between).limit(1)).first()
    if stored is None and len(keys) == len(rows):
        return list(rows)
    new = keys.difference(keys_stored(connection, list(keys)))
    found = []
    for row in rows:
        if row[0] in new:
            new.remove(row[0])
            found.append(row)
    return found


def keys_stored(connection: sa.Connection, keys: Sequence[bytes]) -> dict[bytes, int]:
    """The sequences of those keys that are stored."""
    found: dict[bytes, int] = {}
    query = sa.select(readings.c.key, readings.c.sequence)
    for some in some_at_a_time(keys):
        rows = connection.execute(query.where(readings.c.key.in_(some)))
        found.update((bytes(key), sequence) for key, sequence in rows)
    return found


def some_at_a_time(names: Sequence[Any]) -> Iterator[Sequence[Any]]:
    """As many as one query may name."""
    for start in range(0, len(names), NAMED_AT_ONCE):
        yield names[start : start + NAMED_AT_ONCE]


def _statement(connection: sa.Connection, statement: str) -> str:
    return statement.replace("?", "%s") if connection.dialect.paramstyle != "qmark" else statement
