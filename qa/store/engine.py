"""Makes the engine of a store, tuned so that a commit is on the disk, and tells its failures plainly."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy import event, exc

from qa.errors import RowRefused, ServerBusy, ServerGone, StoreError
from qa.store.address import ENV, SQLITE

WAIT_FOR_LOCK_MS = 30_000
CACHE_KB = 65_536
_POSTGRESQL = {
    "connect_timeout": 5,
    "keepalives_idle": 10,
    "keepalives_interval": 5,
    "keepalives_count": 3,
    "tcp_user_timeout": 20_000,
    "application_name": "dryfit",
}
"""A server that is gone is noticed within seconds, not hours; what the address itself says goes first."""


def make_engine(url: str) -> sa.Engine:
    """An engine for a SQLAlchemy URL; StoreError where it is no address of a store."""
    try:
        if url.startswith(SQLITE):  # a path may hold a ? or a %, which a URL would take for its own
            return _sqlite(Path(url.removeprefix(SQLITE)))
        if url.startswith(ENV):
            raise StoreError(f"shop.toml says store = {url!r}, but {url.removeprefix(ENV)} is not set")
        return _server(sa.make_url(url))
    except (exc.ArgumentError, exc.NoSuchModuleError, ModuleNotFoundError) as error:
        raise StoreError(
            f"the store {url!r} in shop.toml cannot be used ({error}); "
            "write sqlite:///readings.db or postgresql+psycopg://user@host/database"
        ) from error


def _server(url: sa.URL) -> sa.Engine:
    """An engine for a database server; commits wait for the disk, and a lock for as long as SQLite's."""
    if url.get_backend_name() != "postgresql":
        return sa.create_engine(url)
    given = {name: value for name, value in _POSTGRESQL.items() if name not in url.query}
    engine = sa.create_engine(url, pool_pre_ping=True, connect_args=given)

    def on_connect(connection: Any, _: object) -> None:
        connection.execute("SET synchronous_commit = on")
        connection.execute(f"SET lock_timeout = {WAIT_FOR_LOCK_MS}")
        connection.commit()

    event.listen(engine, "connect", on_connect)
    return engine


def _sqlite(path: Path) -> sa.Engine:
    """An engine for a SQLite file; where this user may not write, one that only reads.

    A write-ahead log needs a file of its own beside the store even to read. Where that cannot be made and no
    writer has made one, the store is at rest and is opened as a file that does not change, anew every time.
    """
    writable = not path.exists() or (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK))
    if not writable and not path.with_name(f"{path.name}-wal").exists():
        how = {"immutable": "1", "uri": "true"}
        at_rest = sa.URL.create("sqlite", database=f"file:{quote(str(path))}", query=how)
        engine = sa.create_engine(at_rest, poolclass=sa.NullPool)
    else:
        engine = sa.create_engine(sa.URL.create("sqlite", database=str(path)))
    _tune_sqlite(engine, writable)
    return engine


def _tune_sqlite(engine: sa.Engine, writable: bool) -> None:
    """Durable commits, and a write lock taken at the start of every writing transaction.

    A transaction that reads first and writes later fails at once where another has written in between,
    whatever it is told to wait; one that asks for the lock at its start waits its turn.
    """
    waits = f"busy_timeout={WAIT_FOR_LOCK_MS}", f"cache_size=-{CACHE_KB}"

    def on_connect(connection: Any, _: object) -> None:
        connection.isolation_level = None
        for setting in (*waits, "foreign_keys=ON"):
            connection.execute(f"PRAGMA {setting}")
        if writable:
            _log_ahead(connection)
            connection.execute("PRAGMA synchronous=FULL")

    def on_begin(connection: sa.Connection) -> None:
        reads_only = connection.get_execution_options().get("reads_only")
        connection.exec_driver_sql("BEGIN" if reads_only else "BEGIN IMMEDIATE")

    event.listen(engine, "connect", on_connect)
    event.listen(engine, "begin", on_begin)


def _log_ahead(connection: Any) -> None:
    """Turn a file to a write-ahead log: SQLite does not wait its turn for that, so it is asked again."""
    until = time.monotonic() + WAIT_FOR_LOCK_MS / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL")
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() >= until:
                raise
        time.sleep(0.02)


@contextmanager
def told_plainly() -> Iterator[None]:
    """Turns what a database driver raises into a StoreError that says what to do."""
    try:
        yield
    except exc.DBAPIError as error:
        raise _kind(error)(_plain(str(error.orig))) from error
    except sqlite3.Error as error:  # by the driver's own connection, which a watch uses
        raise StoreError(_plain(str(error))) from error
    except exc.SQLAlchemyError as error:
        raise StoreError(f"the store cannot be used: {error}") from error


def _kind(error: exc.DBAPIError) -> type[StoreError]:
    """Whether the server was away (not reached, shutting down, starting, hung up), let nobody write, or can
    never hold what a row says, such as a NUL in a text.
    """
    if type(error.orig).__module__.partition(".")[0] != "psycopg":
        return StoreError
    if isinstance(error, exc.DataError):
        return RowRefused
    state = getattr(error.orig, "sqlstate", None) or ""
    if state == "55P03":
        return ServerBusy
    never_reached = isinstance(error, exc.OperationalError) and not state
    gone = error.connection_invalidated or never_reached or state.startswith(("57P", "08"))
    return ServerGone if gone else StoreError


def _plain(words: str) -> str:
    first = words.strip().splitlines()[0] if words.strip() else "no reason given"
    for sign, meaning in _MEANINGS:
        if sign in words:
            return f"{meaning} ({first})"
    return f"the store refused: {first}"


_MEANINGS: Iterable[tuple[str, str]] = (
    ("kept for ever", "nothing in the store is changed or deleted"),
    ("readonly database", "the store is read-only: give yourself write access to it and to its folder"),
    ("attempt to write", "the store is read-only: give yourself write access to it and to its folder"),
    ("unable to open", "the store cannot be opened: its folder must exist and be writable"),
    ("disk is full", "the disk is full: nothing of this was stored; make room and try again"),
    ("disk I/O error", "the disk cannot be written: check that it is not full or failing, and try again"),
    ("lock timeout", "the store is in use by another program that will not let go; close it and try again"),
    ("is locked", "the store is in use by another program that will not let go; close it and try again"),
    ("not a database", "the store is not a Dryfit store, or is damaged: restore it from a backup"),
    ("malformed", "the store is damaged: restore it from a backup"),
    ("terminat", "the database server went away; check that it is running"),
    ("starting up", "the database server is starting: try again in a moment"),
    ("onnection", "the database server cannot be reached; check its address and that it is running"),
)
