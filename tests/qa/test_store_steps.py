"""A store of an older version is brought up to date, once, with nothing of it lost."""

import sqlite3

import pytest
import sqlalchemy as sa

from qa.record import BenchEvent
from qa.store.schema import STEPS, STORED, stored_version
from qa.store.store import open_store, stored_row
from qa.store.verify import verify

VERSION_1 = """
CREATE TABLE meta (name TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (name));
CREATE TABLE plans (digest TEXT NOT NULL, model TEXT NOT NULL, text TEXT NOT NULL, stored_at TEXT NOT NULL,
    PRIMARY KEY (digest));
CREATE TABLE builds (build TEXT NOT NULL, model TEXT NOT NULL, stored_at TEXT NOT NULL, PRIMARY KEY (build));
CREATE TABLE readings (sequence INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, key BLOB NOT NULL,
    stored_at TEXT NOT NULL, taken_at TEXT NOT NULL, build TEXT NOT NULL, part TEXT NOT NULL,
    characteristic TEXT NOT NULL, station TEXT DEFAULT '' NOT NULL, millionths BIGINT, unit TEXT NOT NULL,
    as_entered TEXT DEFAULT '' NOT NULL, instrument TEXT DEFAULT '' NOT NULL, bench TEXT DEFAULT '' NOT NULL,
    machine TEXT DEFAULT '' NOT NULL, rh_percent FLOAT, temp_c FLOAT, note TEXT DEFAULT '' NOT NULL,
    suspect TEXT DEFAULT '' NOT NULL, held BOOLEAN DEFAULT 0 NOT NULL, corrects BIGINT,
    why TEXT DEFAULT '' NOT NULL, plan TEXT DEFAULT '' NOT NULL, UNIQUE (key));
CREATE INDEX readings_of_build ON readings (build, taken_at);
CREATE INDEX readings_of_series ON readings (part, characteristic, station);
CREATE TABLE events (sequence INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, at TEXT NOT NULL,
    kind TEXT NOT NULL, build TEXT DEFAULT '' NOT NULL, part TEXT DEFAULT '' NOT NULL,
    characteristic TEXT DEFAULT '' NOT NULL, station TEXT DEFAULT '' NOT NULL,
    instrument TEXT DEFAULT '' NOT NULL, text TEXT DEFAULT '' NOT NULL, "by" TEXT DEFAULT '' NOT NULL,
    body JSON NOT NULL);
CREATE INDEX events_of_build ON events (build, part);
INSERT INTO meta VALUES ('version', '1');
"""
OTHERS = """
INSERT INTO plans VALUES ('b', 'm', 'later', '2025-02'), ('c', 'm', 'first', '2025-01');
INSERT INTO builds VALUES ('B-2', 'm', '2025-01'), ('B-1', 'm', '2025-01'), ('B-0', 'm', '2025-02');
INSERT INTO events (sequence, at, kind, body) VALUES (2, 't', 'glue', '{"b": 1,   "a": 2.50}');
INSERT INTO events (sequence, at, kind, body) VALUES (5, 't', 'fix', '{}');
"""
REFUSALS = "".join(
    f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} BEGIN "
    f"SELECT RAISE(ABORT, '{table} are kept for ever: add a row instead'); END;\n"
    for table in ("plans", "builds", "readings", "events")
    for verb in ("UPDATE", "DELETE")
)


@pytest.fixture
def of_version_1(store_url, plan, reading):
    """Stores with some rows, as version 1 made them: gaps in the sequence, an int where floats are kept."""

    def make(some):
        rows = [reading(n, rh_percent=45 if n % 2 else None, temp_c=20.5) for n in range(some)]
        if store_url.startswith("sqlite"):
            bare = sqlite3.connect(store_url.removeprefix("sqlite:///"))
            bare.executescript(VERSION_1 + REFUSALS)
            insert(bare.executemany, "?", rows, plan)
            bare.executescript(OTHERS)
            bare.commit()
            bare.close()
        else:
            _of_postgresql(store_url, rows, plan)
        return store_url

    return make


def insert(execute, mark, rows, plan):
    """Store rows as version 1 did, with a number left out after the third as by a rolled back insert."""
    statement = f"INSERT INTO readings (sequence, {', '.join(STORED)}) VALUES ({', '.join([mark] * (len(STORED) + 1))})"  # noqa: S608, E501
    if rows:
        execute(statement, [(n + (n > 3), *stored_row(row, plan.digest)) for n, row in enumerate(rows, 1)])


def _of_postgresql(url, rows, plan):
    """Version 2 with what it added taken away again."""
    open_store(url).close()
    engine = sa.create_engine(url)
    with engine.begin() as connection:
        for table, *columns in (("readings", "digest"), ("events", "link"),
                                ("builds", "sequence", "link"), ("plans", "sequence", "link")):  # fmt: skip
            for column in columns:
                connection.exec_driver_sql(f"ALTER TABLE {table} DROP COLUMN {column}")
        connection.exec_driver_sql("UPDATE meta SET value = '1' WHERE name = 'version'")
        insert(connection.exec_driver_sql, "%s", rows, plan)
        for statement in OTHERS.split(";\n")[:-1]:
            connection.exec_driver_sql(statement)
    engine.dispose()


@pytest.mark.parametrize("some", [1, 25_000])
def test_a_store_of_version_1_is_chained_when_it_is_opened(of_version_1, some, plan, reading):
    """Every row it had is there as it was and chained, rows may be added, and none may be changed."""
    with open_store(of_version_1(some)) as store:
        with store.reading() as connection:
            assert stored_version(connection) == len(STEPS) == 3
        found = verify(store)
        assert (found.whole, found.rows) == (True, some)
        assert found.counts == {"readings": some, "events": 2, "builds": 3, "plans": 2}
        assert [row.taken_at for row in store.readings()] == [reading(n).taken_at for n in range(some)]
        last = store.last_sequence()
        assert store.append(reading(some), plan) == last + 1
        assert store.add_event(BenchEvent("2025-03-01T10:00:00.000000Z", "note")) == 6
        with (
            pytest.raises(ValueError, match="nothing in the store is changed"),
            store.writing() as connection,
        ):
            connection.exec_driver_sql("DELETE FROM readings")
        found = verify(store)
        assert found.whole
        assert found.head.startswith(f"{last + 1}.6.4.3:")
        with store.reading() as connection:
            names = connection.exec_driver_sql("SELECT build FROM builds ORDER BY sequence").scalars().all()
        assert names == ["B-1", "B-2", "B-0", "PG-01"]


def test_an_empty_store_of_version_1(of_version_1, plan, reading):
    """Is brought up to date as well, and its first reading begins the chain."""
    with open_store(of_version_1(0)) as store:
        assert store.append(reading(0), plan) == 1
        assert verify(store).rows == 1
        assert verify(store).whole


def test_a_step_that_fails_leaves_the_old_version(of_version_1, monkeypatch):
    """All of a step is done, or none of it: the store opens as before once the trouble is over."""
    url = of_version_1(5)
    with monkeypatch.context() as patch:
        patch.setattr("qa.store.chain.Chain.link", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            open_store(url)
    with open_store(url) as store:
        assert verify(store).rows == 5
