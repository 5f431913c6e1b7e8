"""Chains every reading to the one stored before it, so that a row changed or lost shows.

Each row keeps a digest over the digest of the row before it and over its own columns as text. The newest
sequence and digest, the head of the chain, are kept apart, so that rows missing at the end show too.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from qa.store.schema import HEAD, STORED, meta, readings

DIGEST_BYTES = 16
NAMED_AT_ONCE = 10_000
_RH, _TEMP, _HELD = (STORED.index(name) for name in ("rh_percent", "temp_c", "held"))
_AS_TEXT = "\x1f".join(["%s"] * (len(STORED) + 1))


@dataclass(frozen=True, slots=True)
class Head:
    """The newest reading's sequence and digest; 0 and none where there is no reading."""

    sequence: int = 0
    digest: bytes = b""

    def __str__(self) -> str:
        return f"{self.sequence}:{self.digest.hex()}"


def link(previous: bytes, sequence: int, row: Sequence[Any]) -> bytes:
    """The digest of a row, its columns in the order of `STORED`, after the digest of the row before it.

    BLAKE2b (RFC 7693) of 16 bytes. Numbers are written as Python writes them, so that both databases agree.
    """
    rh, temp = row[_RH], row[_TEMP]
    text = _AS_TEXT % (
        sequence, row[0].hex(), *row[1:_RH],
        rh if rh is None else rh + 0.0,  # an int becomes a float, and -0.0 the 0.0 that SQLite makes of it
        temp if temp is None else temp + 0.0,
        *row[_TEMP + 1 : _HELD], bool(row[_HELD]), *row[_HELD + 1 :],
    )  # fmt: skip
    return hashlib.blake2b(previous + text.encode(), digest_size=DIGEST_BYTES).digest()


def chained(head: Head, rows: Iterable[Sequence[Any]]) -> list[tuple[Any, ...]]:
    """Rows in the order of `STORED`, each with its sequence and digest before it."""
    sequence, digest = head.sequence, head.digest
    found = []
    for row in rows:
        sequence += 1
        digest = link(digest, sequence, row)
        found.append((sequence, digest, *row))
    return found


def read_head(connection: sa.Connection) -> Head:
    """The head of the chain as it is kept."""
    found = connection.exec_driver_sql(_READ_HEAD).scalar()
    if not found:
        return Head()
    sequence, _, digest = str(found).partition(":")
    return Head(int(sequence), bytes.fromhex(digest))


def write_head(connection: sa.Connection, head: Head) -> None:
    """Keep the head of the chain, in the transaction that stored its row."""
    connection.exec_driver_sql(_statement(connection, _WRITE_HEAD), (str(head),))


def insert(connection: sa.Connection, row: tuple[Any, ...]) -> int | None:
    """Store one row in the order of `STORED` and give its sequence; None where its key is there already."""
    (new,) = chained(read_head(connection), [row])
    found = connection.exec_driver_sql(_statement(connection, _INSERT_ONE), new).scalar()
    if found is not None:
        write_head(connection, Head(new[0], new[1]))
    return None if found is None else int(found)


def insert_many(connection: sa.Connection, rows: Sequence[tuple[Any, ...]]) -> int:
    """Store rows in the order of `STORED`, passing over keys already there; gives how many were new.

    They are passed over before they are chained, for a row that the database left out would break the chain.
    """
    head = read_head(connection)
    new = chained(head, _not_stored(connection, rows))
    if new:
        connection.exec_driver_sql(_statement(connection, _INSERT), new)
        write_head(connection, Head(new[-1][0], new[-1][1]))
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


_READ_HEAD = f"SELECT value FROM {meta.name} WHERE name = '{HEAD}'"  # noqa: S608 - names of ours
_WRITE_HEAD = (
    f"INSERT INTO {meta.name} (name, value) VALUES ('{HEAD}', ?) "  # noqa: S608 - names of ours
    "ON CONFLICT (name) DO UPDATE SET value = excluded.value"
)
_NAMES = ("sequence", "digest", *STORED)
_INSERT = f"INSERT INTO {readings.name} ({', '.join(_NAMES)}) VALUES ({', '.join('?' * len(_NAMES))})"  # noqa: S608
_INSERT_ONE = f"{_INSERT} ON CONFLICT (key) DO NOTHING RETURNING sequence"
