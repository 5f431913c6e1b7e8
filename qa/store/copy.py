"""Copies a whole store row for row into an empty one, and proves that the two are alike.

Backup, restore and moving between SQLite and PostgreSQL are one and the same copy.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from qa.errors import StoreError
from qa.store.address import SQLITE
from qa.store.chain import CHAINS
from qa.store.engine import told_plainly
from qa.store.schema import KEPT_FOR_EVER
from qa.store.store import Store, open_store

ROWS_AT_ONCE = 10_000


@dataclass(frozen=True, slots=True)
class Copied:
    """A finished copy: rows by table, the digest that both stores gave, and the head of its chains."""

    rows: dict[str, int]
    digest: str
    head: str


class Digest:
    """A digest over rows in order: the same rows give the same digest whatever database holds them."""

    def __init__(self) -> None:
        self._hash = hashlib.blake2b(digest_size=32)

    def add(self, table: str, rows: Sequence[Sequence[Any]]) -> None:
        for row in rows:
            self._hash.update("\x1f".join((table, *map(_plain, row))).encode())
            self._hash.update(b"\x1e")

    def hex(self) -> str:
        return self._hash.hexdigest()


def _plain(value: Any) -> str:
    if isinstance(value, bytes | memoryview):
        return bytes(value).hex()
    if isinstance(value, dict):
        return json.dumps(value, sort_keys=True, ensure_ascii=False)
    if isinstance(value, bool):
        return str(int(value))
    if isinstance(value, float):
        return str(value + 0.0)  # SQLite keeps -0.0 as 0.0
    return "\x00" if value is None else str(value)


def copy(source: Store, target: Store, progress: Callable[[int], None] = lambda rows: None) -> Copied:
    """Copy every row of one store into another that is empty, in one transaction, and check it.

    The source may be in use: it is seen as it stood at the start. StoreError where the target is not empty,
    or where the two differ afterwards.
    """
    digest, counts, done = Digest(), {}, 0
    with source.reading() as reading, target.writing() as writing:
        _must_be_empty(writing)
        for table in KEPT_FOR_EVER:
            counts[table.name] = 0
            for rows in _rows(reading, table):
                digest.add(table.name, rows)
                writing.execute(sa.insert(table), [row._asdict() for row in rows])
                counts[table.name] += len(rows)
                done += len(rows)
                progress(done)
        for chain in CHAINS:
            chain.write_head(writing, chain.read_head(reading))
        head = target.head(writing)
    found = digest_of(target)
    if found != digest.hex():
        raise StoreError("the copy differs from the store it was made of: do not use it, and try again")
    return Copied(counts, found, head)


def _must_be_empty(connection: sa.Connection) -> None:
    for table in KEPT_FOR_EVER:
        if connection.execute(sa.select(table).limit(1)).first() is not None:
            raise StoreError(f"the store to copy into already has {table.name}; name an empty one")


def _rows(connection: sa.Connection, table: sa.Table) -> Iterator[Sequence[sa.Row[Any]]]:
    order = list(table.primary_key.columns)
    result = connection.execution_options(yield_per=ROWS_AT_ONCE).execute(sa.select(table).order_by(*order))
    yield from result.partitions()


def digest_of(store: Store) -> str:
    """The digest of everything a store keeps."""
    digest = Digest()
    with store.reading() as connection:
        for table in KEPT_FOR_EVER:
            for rows in _rows(connection, table):
                digest.add(table.name, rows)
    return digest.hex()


def backup(store: Store, path: Path, progress: Callable[[int], None] = lambda rows: None) -> Copied:
    """Write the store into a new SQLite file while it may be in use; the file appears only once checked.

    StoreError where the file exists or cannot be written.
    """
    if path.exists():
        raise StoreError(f"{path} exists already; name a new file, so that no backup is overwritten")
    part = path.with_name(f"{path.name}.part")
    for left in (part, part.with_name(f"{part.name}-wal"), part.with_name(f"{part.name}-shm")):
        left.unlink(missing_ok=True)
    with open_store(f"{SQLITE}{part.absolute()}") as target:
        copied = copy(store, target, progress)
        with told_plainly(), target.engine.connect() as connection:
            connection.exec_driver_sql("COMMIT")
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
            connection.exec_driver_sql("PRAGMA journal_mode=DELETE")
    part.replace(path)
    return copied


def restore(path: Path, store: Store, progress: Callable[[int], None] = lambda rows: None) -> Copied:
    """Fill an empty store from a backup; StoreError where it is not empty or the file is no backup."""
    if not path.is_file():
        raise StoreError(f"{path} is not a file; name a backup")
    with open_store(f"{SQLITE}{path.absolute()}") as source:
        return copy(source, store, progress)
