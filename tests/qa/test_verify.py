"""The chains of the record: whatever is changed or lost behind the store's back is found and named."""

import json
import sqlite3
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa

from qa.record import BenchEvent
from qa.store.chain import CHAINS, READINGS, Chain, Head
from qa.store.copy import backup
from qa.store.store import open_store, stored_row
from qa.store.verify import verify

FIELDS = [
    ("taken_at", "2025-03-01T09:00:01.000000Z"), ("build", "PG-02"), ("part", "side"),
    ("characteristic", "width"), ("station", "elsewhere"), ("millionths", 1), ("unit", "%"),
    ("as_entered", "19"), ("instrument", "CAL-2"), ("bench", "b"), ("machine", "m"), ("rh_percent", 1.5),
    ("temp_c", 2.5), ("note", "n"), ("suspect", "s"), ("held", True), ("corrects", 1), ("why", "w"),
    ("plan", "p"), ("stored_at", "2025"), ("key", b"0123456789abcdef"), ("digest", b"0123456789abcdef"),
]  # fmt: skip


OTHERS = {
    "events": [("at", "2025"), ("kind", "fix"), ("build", "PG-02"), ("part", "side"), ("characteristic", "w"),
               ("station", "e"), ("instrument", "CAL-2"), ("text", "t"), ("by", "b"), ("body", "7"),
               ("body", '{"clamps": 7}'), ("link", b"0123456789abcdef")],
    "builds": [("model", "octave-mandolin"), ("stored_at", "2025"), ("link", b"0123456789abcdef")],
    "plans": [("model", "octave-mandolin"), ("text", "model = 1"), ("stored_at", "2025")],
}  # fmt: skip
NAMED = {"events": "event 2 (glue PG-01 tail-block)", "builds": "build 2 (B-2 parlour-guitar)",
         "plans": "plan 2 (parlour-guitar)"}  # fmt: skip


def unlocked(store, table="readings"):
    """Take away the triggers that keep rows from change, as somebody with the database file can."""
    with store.engine.begin() as connection:
        if store.engine.dialect.name == "sqlite":
            for verb in ("update", "delete"):
                connection.exec_driver_sql(f"DROP TRIGGER {table}_no_{verb}")
        else:
            connection.exec_driver_sql(f"DROP TRIGGER {table}_no_change ON {table}")
    return store


@pytest.fixture
def filled(store, plan, reading):
    """A store of ten readings of every sort."""
    for n in range(8):
        store.append(reading(n, rh_percent=45, temp_c=-0.0 if n else None, note="é ½ \u2028"), plan)
    store.append(reading(8, 0.7, held=True, suspect="inches?"), plan)
    store.append(reading(9, millionths=None, corrects=2, why="undone"), plan)
    for n in (1, 2, 3):
        at = f"2025-03-01T10:00:0{n}.000000Z"
        body = {"clamps": 6, "a": [1.5, {"z": None, "b": "é ½"}], "n": n}
        store.add_event(BenchEvent(at, "glue", "PG-01", "tail-block", by="me", body=body))
    return store


@pytest.fixture
def of_three(filled, plan, reading):
    """The same with three builds and three revisions of the plan."""
    for n in (2, 3):
        revised = replace(plan, text=f"{plan.text}\n# {n}\n", digest=f"revision {n}")
        filled.append(reading(100 + n, build=f"B-{n}"), revised)
    return filled


def change(store, statement, *values):
    """Run a statement on the rows behind the store's back."""
    with store.engine.begin() as connection:
        connection.execute(sa.text(statement), dict(zip(("a", "b"), values, strict=False)))


def test_a_store_left_alone_is_whole(filled):
    """Every row follows from the one before it, and the head is the last of them."""
    found = verify(filled)
    assert (found.whole, found.rows, found.faults) == (True, 10, [])
    assert found.head == filled.head()
    assert found.head.startswith("10.3.1.1:")
    assert found.counts == {"readings": 10, "events": 3, "builds": 1, "plans": 1}


def test_an_empty_store_is_whole(store):
    """Nothing is missing where nothing was."""
    assert verify(store).whole
    assert verify(store).head == store.head()
    assert verify(store, store.head()).whole


@pytest.mark.parametrize(("column", "value"), FIELDS)
def test_a_changed_row_is_named(filled, column, value):
    """A change of any column of one row is found, and the row is named."""
    change(unlocked(filled), f"UPDATE readings SET {column} = :a WHERE sequence = 4", value)  # noqa: S608
    found = verify(filled)
    assert not found.whole
    first = found.faults[0]
    assert (first.sequence, first.why) == (4, "was changed after it was stored")
    expected = {"build": "PG-01", "part": "tail-block", "characteristic": "thickness", "station": "top-right"}
    for name, kept in expected.items():
        assert getattr(first, name) == (value if name == column else kept)


@pytest.mark.parametrize(("table", "fields"), OTHERS.items())
def test_a_changed_row_of_another_table_is_named(of_three, table, fields):
    """Events, builds and plans are chained as readings are; each column is part of the chain."""
    unlocked(of_three, table)
    for name, value in fields:
        column = f'"{name}"'
        with of_three.engine.connect() as connection:
            cast = "CAST(:a AS JSON)" if name == "body" and connection.dialect.name != "sqlite" else ":a"
            old = sa.text(f"SELECT {column} FROM {table} WHERE sequence = 2")  # noqa: S608
            kept = connection.execute(old).scalar()
        change(of_three, f"UPDATE {table} SET {column} = {cast} WHERE sequence = 2", value)  # noqa: S608
        found = verify(of_three)
        assert found.faults[0].sequence == 2
        assert "was changed after it was stored" in str(found.faults[0])
        kept = json.dumps(kept) if isinstance(kept, dict) else kept
        change(of_three, f"UPDATE {table} SET {column} = {cast} WHERE sequence = 2", kept)  # noqa: S608
        assert verify(of_three).whole


@pytest.mark.parametrize("table", OTHERS)
def test_a_missing_row_of_another_table_is_named(of_three, table):
    """In the middle by the row after it, at the end by the head; a changed one by its own names."""
    unlocked(of_three, table)
    what = table.removesuffix("s")
    change(of_three, f"UPDATE {table} SET link = :a WHERE sequence = 2", b"x")  # noqa: S608
    assert str(verify(of_three).faults[0]) == f"{NAMED[table]}: was changed after it was stored"
    change(of_three, f"DELETE FROM {table} WHERE sequence = 2")  # noqa: S608
    assert f"the {what} before it, 2, is missing" in str(verify(of_three).faults[0])
    change(of_three, f"DELETE FROM {table} WHERE sequence > 1")  # noqa: S608
    assert str(verify(of_three).faults[0]) == f"the last 2 {what}s are missing: 2 to 3"


def test_a_row_of_another_table_slipped_in_is_named(filled):
    """One that the store did not write has no link, and a build not even a number."""
    change(filled, "INSERT INTO events (sequence, at, kind, body) VALUES (4, 't', 'glue', '{}')")
    change(filled, "INSERT INTO builds (build, model, stored_at) VALUES ('B', 'm', 't')")
    assert {(fault.what, fault.sequence) for fault in verify(filled).faults} >= {("event", 4), ("build", 0)}


def test_values_of_other_types_are_named(sqlite_store, plan, reading):
    """SQLite lets anything be put into a column; it is a changed row, not a program that breaks."""
    for n in range(3):
        sqlite_store.append(reading(n), plan)
    sqlite_store.add_event(BenchEvent("2025-03-01T10:00:00.000000Z", "glue"))
    for table in ("readings", "events"):
        unlocked(sqlite_store, table)
    change(
        sqlite_store, "UPDATE readings SET key = 'text', rh_percent = 'wet', digest = 7 WHERE sequence = 2"
    )
    change(sqlite_store, "UPDATE events SET body = '{'")
    found = verify(sqlite_store)
    assert {(fault.what, fault.sequence) for fault in found.faults} == {
        ("reading", 2), ("reading", 3), ("event", 1),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("gone", "words"),
    [
        ([1], "the reading before it, 1, is missing"),
        ([4], "the reading before it, 4, is missing"),
        ([4, 5, 6], "the 3 readings before it, 4 to 6, are missing"),
        ([10], "the last reading is missing"),
        ([8, 9, 10], "the last 3 readings are missing"),
        (range(1, 11), "the last 10 readings are missing"),
    ],
)
def test_missing_rows_are_named(filled, gone, words):
    """At the start, in the middle and at the end, where nothing after them can tell."""
    unlocked(filled)
    for sequence in gone:
        change(filled, "DELETE FROM readings WHERE sequence = :a", sequence)
    found = verify(filled)
    assert found.count == 1
    assert words in str(found.faults[0])


def test_two_rows_exchanged_are_named(filled):
    """The order of rows is part of the record."""
    unlocked(filled)
    for old, new in ((3, 99), (4, 3), (99, 4)):
        change(filled, "UPDATE readings SET sequence = :b WHERE sequence = :a", old, new)
    assert [fault.sequence for fault in verify(filled).faults][:2] == [3, 4]


def test_a_row_slipped_in_is_named(filled):
    """A row that the store did not write does not follow from the one before it."""
    columns = "key, stored_at, taken_at, build, part, characteristic, unit"
    change(
        filled,
        f"INSERT INTO readings (sequence, {columns}) VALUES (11, :a, 't', 't', 'b', 'p', 'c', 'mm')",  # noqa: S608
        b"0" * 16,
    )
    found = verify(filled)
    assert found.faults[0].sequence == 11


@pytest.mark.parametrize("table", ["readings", "events"])
def test_a_chain_made_anew_shows_only_beside_a_head_kept_elsewhere(filled, table):
    """The limit of a chain, stated as a test: who recomputes it all is found by the head on paper."""
    kept = filled.head()
    unlocked(filled, table)
    change(filled, f"UPDATE {table} SET build = 'PG-09' WHERE sequence = 2")  # noqa: S608
    forge(filled, table)
    assert verify(filled).whole
    (fault,) = verify(filled, kept).faults
    assert str(fault).startswith("up to reading 10, event 3, build 1, plan 1 the record is not what it was")


def forge(store, table):
    """Compute the chain of a table anew, as somebody with the program can."""
    chain, head = next(chain for chain in CHAINS if chain.table.name == table), Head()
    with store.engine.begin() as connection:
        for sequence, _, *row in connection.execute(chain.query()).all():
            head = Head(sequence, chain.link(head.digest, sequence, row))
            change = sa.update(chain.table).where(chain.table.c.sequence == sequence)
            connection.execute(change.values({chain.digest: head.digest}))
        chain.write_head(connection, head)


def test_a_head_kept_while_the_record_grew(filled, plan, reading):
    """An old head holds as long as nothing before it was changed; one of a lost row does not."""
    kept = filled.head()
    with filled.reading() as connection:
        of_readings = str(READINGS.read_head(connection))  # as it was printed when these alone were chained
    filled.append(reading(30), plan)
    filled.add_event(BenchEvent("2025-03-01T11:00:00.000000Z", "note"))
    for head in (kept, of_readings):
        assert verify(filled, head).whole
        assert not verify(filled, head[:-1] + ("0" if head[-1] != "0" else "1")).whole
    assert "reading 99 of the head kept elsewhere is missing" in str(
        verify(filled, f"99:{'0' * 32}").faults[0]
    )
    assert "event 9 of the head" in str(verify(filled, f"1.9.1.1:{'0' * 32}").faults[0])


def test_the_heads_are_of_one_moment(filled, store_url, monkeypatch):
    """Though another bench stores something while they are read one by one."""
    before, read_head = filled.head(), Chain.read_head
    with open_store(store_url) as other, monkeypatch.context() as patched:

        def reads(chain, connection):
            head = read_head(chain, connection)
            if chain is READINGS:
                other.add_event(BenchEvent("2025-03-01T11:00:00.000000Z", "note"))
            return head

        patched.setattr(Chain, "read_head", reads)
        assert filled.head() == before
    assert filled.head().startswith("10.4.1.1:")


def test_a_failed_transaction_leaves_the_chain_whole(filled, plan, reading):
    """What is rolled back leaves neither a gap nor another head."""
    with suppress(RuntimeError), filled.writing() as connection:
        assert filled.append_rows(connection, [stored_row(reading(50), plan.digest)]) == 1
        raise RuntimeError
    filled.append(reading(3), plan)  # there already
    filled.append(reading(40), plan)
    assert verify(filled).whole
    assert filled.head().startswith("11.3.1.1:")


def test_a_backup_keeps_the_chain(filled, tmp_path):
    """The copy has the same head, and is whole by itself."""
    made = backup(filled, tmp_path / "b.db")
    with open_store(f"sqlite:///{tmp_path / 'b.db'}") as copied:
        assert verify(copied).whole
        assert copied.head() == made.head == filled.head()


def test_a_damaged_file_is_told(sqlite_store, plan, reading, tmp_path):
    """An index that lacks a row is found by SQLite's own check, though every row is as it was."""
    for n in range(4):
        sqlite_store.append(reading(n), plan)
    path = sqlite_store.engine.url.database
    sqlite_store.close()
    bare = sqlite3.connect(path)
    query = "SELECT rootpage FROM sqlite_master WHERE name = 'readings_of_build'"
    size, page = bare.execute("PRAGMA page_size").fetchone()[0], bare.execute(query).fetchone()[0]
    bare.close()
    whole = Path(path).read_bytes()
    index = slice((page - 1) * size, page * size)
    broken = whole[index].replace(b"PG-01", b"PG-00", 1)
    assert broken != whole[index]
    Path(path).write_bytes(whole[: index.start] + broken + whole[index.stop :])
    with open_store(f"sqlite:///{path}") as store:
        found = verify(store)
    assert "damaged" in str(found.faults[0])
    assert not found.whole
