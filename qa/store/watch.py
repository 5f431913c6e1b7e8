"""Notices that something was stored, by whatever program, at next to no cost."""

from __future__ import annotations

import threading
from typing import Any

import sqlalchemy as sa

from qa.errors import ServerGone
from qa.store.engine import told_plainly
from qa.store.schema import CHANNEL, events, readings
from qa.store.store import Store

OVERLAP = 20


class StoreWatch:
    """Watches an open store; safe to ask from several threads."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._connection: Any = None  # SQLite: one of the pool's; PostgreSQL: the driver's own
        self._told = 0

    def mark(self) -> int:
        """A number that changes whenever a reading or an event is stored; it means nothing else.

        SQLite: `data_version`, which tells a connection that another one has committed. PostgreSQL: how often
        the server has told this connection of a commit. So both are always asked on the same connection.
        StoreError where the store cannot be asked; it may be asked again.
        """
        with self._lock, told_plainly():
            if self._store.engine.dialect.name == "sqlite":
                return self._data_version()
            return self._notices()

    def close(self) -> None:
        with self._lock:
            if self._connection is not None:
                self._connection.close()
                self._connection = None

    def _data_version(self) -> int:
        if self._connection is None:
            # The driver's own connection, for one of the engine would begin a transaction and hold the store.
            self._connection = self._store.engine.raw_connection()
        cursor = self._connection.cursor()
        try:
            cursor.execute("PRAGMA data_version")
            row = cursor.fetchone()
            return int(row[0]) if row else 0
        finally:
            cursor.close()

    def _notices(self) -> int:
        try:
            if self._connection is None:
                self._told += 1  # whatever was stored while nobody listened
                self._connection = self._listening()
            # Told not to wait, psycopg's own notifies() may miss what has just come.
            line = self._connection.pgconn
            line.consume_input()
            while line.notifies():
                self._told += 1
        except self._store.engine.dialect.loaded_dbapi.Error as error:
            if self._connection is not None:
                self._connection.close()
                self._connection = None
            raise ServerGone(f"the database server cannot be reached ({error})") from error
        return self._told

    def _listening(self) -> Any:
        lent = self._store.engine.raw_connection()
        driver: Any = lent.driver_connection
        lent.detach()  # never to be lent to anybody else
        driver.autocommit = True
        driver.execute(f"LISTEN {CHANNEL}")
        return driver


def events_since(store: Store, after: int) -> tuple[set[tuple[str, str]], int]:
    """The kinds of event stored after a sequence, each with its build, and the last sequence there is.

    A few before it are looked at again: a lower number may be committed after a higher one.
    """
    query = sa.select(events.c.sequence, events.c.kind, events.c.build).where(
        events.c.sequence > max(after - OVERLAP, 0)
    )
    with store.reading() as connection:
        rows = connection.execute(query).all()
    last = max((row.sequence for row in rows), default=after)
    return ({(row.kind, row.build) for row in rows} if last != after else set()), last


def newest_by_part(store: Store, after: int) -> tuple[int, dict[tuple[str, str], int]]:
    """The newest event's sequence, and the newest reading's of each (build, part) read after a sequence."""
    newest = sa.func.max(readings.c.sequence)
    parts = (readings.c.build, readings.c.part)
    query = sa.select(*parts, newest).where(readings.c.sequence > after).group_by(*parts)
    with store.reading() as connection:
        event = connection.execute(sa.select(sa.func.max(events.c.sequence))).scalar() or 0
        return int(event), {(build, part): int(last) for build, part, last in connection.execute(query)}
