"""The tables of a store, their triggers, and the steps from one version to the next."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import sqlalchemy as sa

from qa.errors import StoreError

if TYPE_CHECKING:
    from qa.store.chain import Chain

METADATA = sa.MetaData()
_SEQUENCE = sa.BigInteger().with_variant(sa.Integer, "sqlite")


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


meta = sa.Table(
    "meta",
    METADATA,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)
plans = sa.Table(
    "plans",
    METADATA,
    sa.Column("digest", sa.Text, primary_key=True),
    sa.Column("model", sa.Text, nullable=False),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("stored_at", sa.Text, nullable=False),
    sa.Column("sequence", _SEQUENCE),
    sa.Column("link", sa.LargeBinary),
)
builds = sa.Table(
    "builds",
    METADATA,
    sa.Column("build", sa.Text, primary_key=True),
    sa.Column("model", sa.Text, nullable=False),
    sa.Column("stored_at", sa.Text, nullable=False),
    sa.Column("sequence", _SEQUENCE),
    sa.Column("link", sa.LargeBinary),
)
readings = sa.Table(
    "readings",
    METADATA,
    sa.Column("sequence", _SEQUENCE, primary_key=True, autoincrement=True),
    sa.Column("key", sa.LargeBinary, nullable=False, unique=True),
    sa.Column("stored_at", sa.Text, nullable=False),
    sa.Column("taken_at", sa.Text, nullable=False),
    sa.Column("build", sa.Text, nullable=False),
    sa.Column("part", sa.Text, nullable=False),
    sa.Column("characteristic", sa.Text, nullable=False),
    _text("station"),
    sa.Column("millionths", sa.BigInteger),
    sa.Column("unit", sa.Text, nullable=False),
    _text("as_entered"),
    _text("instrument"),
    _text("bench"),
    _text("machine"),
    sa.Column("rh_percent", sa.Float),
    sa.Column("temp_c", sa.Float),
    _text("note"),
    _text("suspect"),
    sa.Column("held", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Column("corrects", sa.BigInteger),
    _text("why"),
    _text("plan"),
    sa.Column("digest", sa.LargeBinary),  # a row that has none was not written by `qa.store.store`
    sa.Index("readings_of_build", "build", "taken_at"),
    sa.Index("readings_of_series", "part", "characteristic", "station"),
    sqlite_autoincrement=True,
)
events = sa.Table(
    "events",
    METADATA,
    sa.Column("sequence", _SEQUENCE, primary_key=True, autoincrement=True),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    _text("build"),
    _text("part"),
    _text("characteristic"),
    _text("station"),
    _text("instrument"),
    _text("text"),
    _text("by"),
    sa.Column("body", sa.JSON, nullable=False),
    sa.Column("link", sa.LargeBinary),
    sa.Index("events_of_build", "build", "part"),
    sqlite_autoincrement=True,
)
BEGUN_AT = sa.func.coalesce(
    sa.select(sa.func.min(readings.c.taken_at)).where(readings.c.build == builds.c.build).scalar_subquery(),
    builds.c.stored_at,
)
"""When a build was begun: its first reading; where it has none yet, when it was named."""
KEPT_FOR_EVER = (plans, builds, readings, events)
STORED = tuple(column.name for column in readings.columns if column.name not in ("sequence", "digest"))
CHAINED_AT_ONCE = 10_000


def _first(connection: sa.Connection) -> None:
    METADATA.create_all(connection)
    for table in KEPT_FOR_EVER:
        for statement in _append_only(table.name, connection.dialect.name):
            connection.exec_driver_sql(statement)


def _append_only(table: str, dialect: str) -> list[str]:
    """Triggers that refuse to change or delete a row."""
    words = f"{table} are kept for ever: add a row instead"
    names = _triggers(table, dialect)
    if dialect == "sqlite":
        refuse = f"ON {table} BEGIN SELECT RAISE(ABORT, '{words}'); END"
        verbs = zip(names, ("UPDATE", "DELETE"), strict=True)
        return [f"CREATE TRIGGER {name} BEFORE {verb} {refuse}" for name, verb in verbs]
    refuse = f"BEGIN RAISE EXCEPTION '{words}'; END"
    function = (
        f"CREATE OR REPLACE FUNCTION {table}_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ {refuse} $$"
    )
    when = (
        f"BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} FOR EACH STATEMENT EXECUTE FUNCTION {table}_refuse()"
    )
    return [function, f"CREATE TRIGGER {names[0]} {when}"]


def _triggers(table: str, dialect: str) -> list[str]:
    return [f"{table}_no_update", f"{table}_no_delete"] if dialect == "sqlite" else [f"{table}_no_change"]


def _second(connection: sa.Connection) -> None:
    """Version 2: every reading is chained to the one before it."""
    from qa.store.chain import READINGS

    _begin_chain(connection, READINGS)


def _third(connection: sa.Connection) -> None:
    """Version 3: every event, build and plan is chained too; the chains begin at what is there."""
    from qa.store.chain import BUILDS, EVENTS, PLANS

    for chain in (EVENTS, BUILDS, PLANS):
        _begin_chain(connection, chain)


def _begin_chain(connection: sa.Connection, chain: Chain) -> None:
    """Chain the rows of a table; nothing to do where it was made with the columns for that, and so is new."""
    table, dialect = chain.table, connection.dialect.name
    there = {column["name"] for column in sa.inspect(connection).get_columns(table.name)}
    if chain.digest in there:
        return
    for name in _triggers(table.name, dialect):
        where = f" ON {table.name}" if dialect == "postgresql" else ""
        connection.exec_driver_sql(f"DROP TRIGGER {name}{where}")
    for name in ("sequence", chain.digest):
        if name not in there:
            kind = table.c[name].type.compile(connection.dialect)
            connection.exec_driver_sql(f"ALTER TABLE {table.name} ADD COLUMN {name} {kind}")
    if "sequence" not in there:
        _number(connection, table)
    _chain_all(connection, chain)
    for statement in _append_only(table.name, dialect):
        connection.exec_driver_sql(statement)


def _number(connection: sa.Connection, table: sa.Table) -> None:
    """Give rows numbers in the order they were stored."""
    (key,) = table.primary_key.columns
    found = connection.execute(sa.select(key).order_by(table.c.stored_at, key)).scalars().all()
    change = sa.update(table).where(key == sa.bindparam("named")).values(sequence=sa.bindparam("number"))
    if found:
        connection.execute(change, [{"named": name, "number": n} for n, name in enumerate(found, 1)])


def _chain_all(connection: sa.Connection, chain: Chain) -> None:
    from qa.store.chain import Head

    sequence = chain.table.c.sequence
    change = sa.update(chain.table).where(sequence == sa.bindparam("numbered"))
    change = change.values({chain.digest: sa.bindparam("chained")})
    query, head = chain.query().limit(CHAINED_AT_ONCE), Head()
    while rows := connection.execute(query.where(sequence > head.sequence)).all():
        given = []
        for at, _, *row in rows:
            head = Head(at, chain.link(head.digest, at, row))
            given.append({"numbered": at, "chained": head.digest})
        connection.execute(change, given)
    if head.sequence:
        chain.write_head(connection, head)


STEPS: tuple[Callable[[sa.Connection], None], ...] = (_first, _second, _third)
"""What makes each version out of the one before; the first makes version 1 out of nothing."""


CHANNEL = "dryfit_stored"
_TURNS = 7_309_453_401  # any number that no other program of the database locks


def take_turns(connection: sa.Connection, wait_ms: int | None = None) -> None:
    """Let one transaction write at a time, so that the order of sequences is the order of commits.

    SQLite's writers wait for one another already. PostgreSQL's are told of the commit on `CHANNEL`, and wait
    for `wait_ms` milliseconds where that is given.
    """
    if connection.dialect.name == "postgresql":
        waits = "" if wait_ms is None else f"set_config('lock_timeout', '{wait_ms}', true), "
        turn = f"pg_advisory_xact_lock({_TURNS}), pg_notify('{CHANNEL}', '')"
        connection.exec_driver_sql(f"SELECT {waits}{turn}")


def migrate(connection: sa.Connection) -> None:
    """Bring the store to this version, each step within the caller's transaction.

    StoreError where the store was written by a newer version.
    """
    take_turns(connection)
    version = stored_version(connection)
    if version > len(STEPS):
        raise StoreError(
            f"the store is of version {version} and this Dryfit knows versions up to {len(STEPS)}: "
            "it was written by a newer Dryfit; update this one"
        )
    for number, step in enumerate(STEPS[version:], version + 1):
        step(connection)
        connection.execute(sa.delete(meta).where(meta.c.name == "version"))
        connection.execute(sa.insert(meta).values(name="version", value=str(number)))


def stored_version(connection: sa.Connection) -> int:
    """The version of the store; 0 where it has no tables yet."""
    if not sa.inspect(connection).has_table("meta"):
        return 0
    return int(connection.execute(sa.select(meta.c.value).where(meta.c.name == "version")).scalar_one())
