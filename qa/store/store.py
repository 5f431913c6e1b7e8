"""The store: every reading and event ever taken, appended and never changed.

SQLite in one file (write-ahead log, every commit forced to the disk) or PostgreSQL, by URL.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields
from typing import Any, Protocol

import sqlalchemy as sa

from qa.errors import RowRefused
from qa.record import BenchEvent, BenchReading, utc
from qa.store.chain import (
    BUILDS,
    CHAINS,
    EVENTS,
    PLANS,
    READINGS,
    as_one_line,
    insert_many,
    keys_stored,
    some_at_a_time,
)
from qa.store.engine import make_engine, told_plainly
from qa.store.schema import (
    BEGUN_AT,
    STEPS,
    STORED,
    builds,
    events,
    migrate,
    plans,
    readings,
    stored_version,
    take_turns,
)

COLUMNS = tuple(field.name for field in fields(BenchReading) if field.name != "sequence")
_EVENT_COLUMNS = tuple(field.name for field in fields(BenchEvent) if field.name != "sequence")


@dataclass(frozen=True, slots=True)
class Build:
    """A build: its model, and when it was begun (its first reading; ISO 8601 in UTC)."""

    name: str
    model: str
    begun: dt.date
    begun_at: str


class Revision(Protocol):
    """What a store keeps of a revision of a plan: the digest that names it, its model and its text."""

    @property
    def digest(self) -> str: ...
    @property
    def model(self) -> str: ...
    @property
    def text(self) -> str: ...


class Store:
    """An open store. Use `open_store`; close it, or use it as a context manager."""

    wait_ms: int | None = None
    """How long a writer waits for its turn on a server, milliseconds; as the engine says where None."""

    def __init__(self, engine: sa.Engine) -> None:
        self.engine = engine
        # PostgreSQL shows every statement what was committed by then, unless told to keep to one view.
        one_view = {"isolation_level": "REPEATABLE READ"} if engine.dialect.name == "postgresql" else {}
        self._reader = engine.execution_options(reads_only=True, **one_view)
        self._seen_builds: set[str] = set()
        self._seen_plans: set[str] = set()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *exception: object) -> None:
        self.close()

    def close(self) -> None:
        self.engine.dispose()

    def waiting(self) -> int:
        """How many rows wait to be handed to a server that is gone."""
        return 0

    def kept_here(self) -> str:
        """That the server is gone and rows are kept here meanwhile; "" where it is not."""
        return ""

    def itself(self) -> Store:
        """The store without anything between; ServerGone where its server is known to be gone."""
        return self

    def news(self) -> list[str]:
        """What happened to rows on their way since this was last asked; nothing, where nothing is between."""
        return []

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """One transaction that takes the write lock at once; all of it is stored, or none."""
        with told_plainly(), self.engine.begin() as connection:
            take_turns(connection, self.wait_ms)
            yield connection

    @contextmanager
    def reading(self, inside: sa.Connection | None = None) -> Iterator[sa.Connection]:
        """One consistent view that never waits for a writer; or that of a transaction under way."""
        if inside is not None:
            yield inside
            return
        with told_plainly(), self._reader.connect() as connection:
            yield connection

    def append(self, reading: BenchReading, plan: Revision) -> int:
        """Store one reading durably and give its sequence; the same reading again gives the same one."""
        with self.writing() as connection:
            self.note_build(connection, reading.build, plan)
            row = stored_row(reading, plan.digest)
            found = READINGS.insert(connection, row)
            if found is None:
                found = keys_stored(connection, [row[0]])[row[0]]
        self._seen_builds.add(reading.build)
        self._seen_plans.add(plan.digest)
        return found

    def note_build(self, connection: sa.Connection, build: str, plan: Revision) -> None:
        """Keep the plan's revision, and the build with its model; RowRefused where it has another model."""
        now = utc(dt.datetime.now(dt.UTC))
        if plan.digest not in self._seen_plans:
            PLANS.insert(connection, (plan.digest, plan.model, plan.text, now))
        if build in self._seen_builds:
            return
        if BUILDS.insert(connection, (build, plan.model, now)) is None:
            model = connection.execute(sa.select(builds.c.model).where(builds.c.build == build)).scalar_one()
            if model != plan.model:
                raise RowRefused(
                    f"build {build} was begun as {model!r}, so it cannot be a {plan.model!r}; "
                    "use another build name"
                )

    def append_rows(self, connection: sa.Connection, rows: Sequence[tuple[Any, ...]]) -> int:
        """Store rows in the order of `STORED`, passing over those already there; gives how many were new."""
        return insert_many(connection, rows)

    def keys_stored(self, connection: sa.Connection, keys: Sequence[bytes]) -> dict[bytes, int]:
        """The sequences of those keys that are stored."""
        return keys_stored(connection, keys)

    def head(self, inside: sa.Connection | None = None) -> str:
        """The heads of the chains as one line, to be kept elsewhere."""
        with self.reading(inside) as connection:
            return as_one_line([chain.read_head(connection) for chain in CHAINS])

    def add_event(self, item: BenchEvent) -> int:
        """Store one event durably and give its sequence."""
        with self.writing() as connection:
            return self._insert_event(connection, item)

    @staticmethod
    def _insert_event(connection: sa.Connection, item: BenchEvent) -> int:
        row = {name: getattr(item, name) for name in _EVENT_COLUMNS} | {"body": json.dumps(dict(item.body))}
        return EVENTS.insert(connection, tuple(row[name] for name in EVENTS.columns)) or 0

    def add_event_once(self, item: BenchEvent) -> int:
        """Store an event unless the very same one is there; its sequence either way."""
        same = [events.c[name] == getattr(item, name) for name in _EVENT_COLUMNS if name != "body"]
        query = sa.select(events.c.sequence, events.c.body).where(*same)
        with self.writing() as connection:
            for sequence, body in connection.execute(query):
                if body == dict(item.body):
                    return int(sequence)
            return self._insert_event(connection, item)

    def readings(
        self,
        build: str | None = None,
        part: str | None = None,
        characteristic: str | None = None,
        station: str | None = None,
        after: int = 0,
    ) -> list[BenchReading]:
        """Readings in the order they were stored, all rows alike: held, corrected and corrections too."""
        wanted = {"build": build, "part": part, "characteristic": characteristic, "station": station}
        query = sa.select(*(readings.c[name] for name in COLUMNS), readings.c.sequence)
        for name, value in wanted.items():
            if value is not None:
                query = query.where(readings.c[name] == value)
        if after:
            query = query.where(readings.c.sequence > after)
        with self.reading() as connection:
            rows = connection.execute(query.order_by(readings.c.sequence)).all()
        return [BenchReading(*row) for row in rows]

    def events(
        self,
        kind: str | None = None,
        build: str | None = None,
        part: str | None = None,
        instrument: str | None = None,
        newest: int | None = None,
    ) -> list[BenchEvent]:
        """Events in the order they were stored: all, or so many of the newest."""
        query = sa.select(*(events.c[name] for name in _EVENT_COLUMNS), events.c.sequence)
        wanted = {"kind": kind, "build": build, "part": part, "instrument": instrument}
        for name, value in wanted.items():
            if value is not None:
                query = query.where(events.c[name] == value)
        with self.reading() as connection:
            rows = connection.execute(query.order_by(events.c.sequence.desc()).limit(newest)).all()
        return [BenchEvent(*row) for row in reversed(rows)]

    def builds(
        self, names: Collection[str] | None = None, inside: sa.Connection | None = None
    ) -> dict[str, Build]:
        """Those builds, or all, in the order they were begun."""
        query = sa.select(builds.c.build, builds.c.model, BEGUN_AT)
        asked = [query]
        if names is not None:
            asked = [query.where(builds.c.build.in_(some)) for some in some_at_a_time(list(names))]
        with self.reading(inside) as connection:
            rows = [row for some in asked for row in connection.execute(some)]
        found = [Build(name, model, dt.date.fromisoformat(at[:10]), at) for name, model, at in rows]
        return {item.name: item for item in sorted(found, key=lambda item: (item.begun_at, item.name))}

    def build(self, name: str) -> Build | None:
        """The build of that name; None where the store has none."""
        return self.builds([name]).get(name)

    def first_use(self, instruments: Collection[str]) -> dict[str, str]:
        """When the first reading of each of those instruments was stored: at the bench that is its first use.

        Of a log of past years it is the day the log was loaded.
        """
        # The oldest row of each is found by the rows' own order; a minimum would look at every row.
        queries = {
            name: sa.select(readings.c.stored_at)
            .where(readings.c.instrument == name)
            .order_by(readings.c.sequence)
            .limit(1)
            for name in instruments
        }
        with self.reading() as connection:
            found = {name: connection.execute(query).scalar() for name, query in queries.items()}
        return {name: str(first) for name, first in found.items() if first is not None}

    def last_sequence(self, inside: sa.Connection | None = None) -> int:
        """The sequence of the newest reading; 0 where there is none."""
        with self.reading(inside) as connection:
            return int(connection.execute(sa.select(sa.func.max(readings.c.sequence))).scalar() or 0)

    def plan_text(self, digest: str) -> str | None:
        """The text of a plan revision the store has kept."""
        with self.reading() as connection:
            return connection.execute(sa.select(plans.c.text).where(plans.c.digest == digest)).scalar()


def stored_row(reading: BenchReading, plan: str) -> tuple[Any, ...]:
    """A reading as a row in the order of `STORED`, with the digest of the plan in force."""
    given = {"key": reading.key, "stored_at": utc(dt.datetime.now(dt.UTC)), "plan": plan}
    return tuple(given[name] if name in given else getattr(reading, name) for name in STORED)


def open_store(url: str) -> Store:
    """Open the store at a SQLAlchemy URL, making or updating its tables; StoreError where that fails."""
    engine = make_engine(url)
    try:
        ensure_tables(engine)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine)


def ensure_tables(engine: sa.Engine) -> None:
    """Make or update the tables of a store where they are not of this version."""
    with told_plainly():
        if not _up_to_date(engine):
            with engine.begin() as connection:
                migrate(connection)


def _up_to_date(engine: sa.Engine) -> bool:
    """Whether the tables are of this version, asked without a write lock so that a read-only store opens."""
    with engine.connect().execution_options(reads_only=True) as connection:
        return stored_version(connection) == len(STEPS)
