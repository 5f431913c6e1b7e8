"""The chain of readings: whatever is changed or lost behind the store's back is found and named."""

import sqlite3
from contextlib import suppress
from pathlib import Path

import pytest
import sqlalchemy as sa

from qa.store.chain import Head, link
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


def unlocked(store):
    """Take away the triggers that keep rows from change, as somebody with the database file can."""
    with store.engine.begin() as connection:
        if store.engine.dialect.name == "sqlite":
            for verb in ("update", "delete"):
                connection.exec_driver_sql(f"DROP TRIGGER readings_no_{verb}")
        else:
            connection.exec_driver_sql("DROP TRIGGER readings_no_change ON readings")
    return store


@pytest.fixture
def filled(store, plan, reading):
    """A store of ten readings of every sort."""
    for n in range(8):
        store.append(reading(n, rh_percent=45, temp_c=-0.0 if n else None, note="é ½ \u2028"), plan)
    store.append(reading(8, 0.7, held=True, suspect="inches?"), plan)
    store.append(reading(9, millionths=None, corrects=2, why="undone"), plan)
    return store


def change(store, statement, *values):
    """Run a statement on the rows behind the store's back."""
    with store.engine.begin() as connection:
        connection.execute(sa.text(statement), dict(zip(("a", "b"), values, strict=False)))


def test_a_store_left_alone_is_whole(filled):
    """Every row follows from the one before it, and the head is the last of them."""
    found = verify(filled)
    assert (found.whole, found.rows, found.faults) == (True, 10, [])
    assert found.head == filled.head()
    assert found.head.sequence == 10


def test_an_empty_store_is_whole(store):
    """Nothing is missing where nothing was."""
    assert verify(store).whole
    assert verify(store).head == Head()


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


def test_a_chain_made_anew_shows_only_beside_a_head_kept_elsewhere(filled):
    """The limit of a chain, stated as a test: who recomputes it all is found by the head on paper."""
    kept = str(filled.head())
    unlocked(filled)
    change(filled, "UPDATE readings SET millionths = 1 WHERE sequence = 4")
    forge(filled)
    assert verify(filled).whole
    found = verify(filled, kept)
    assert [fault.sequence for fault in found.faults] == [10]
    assert "head kept elsewhere" in str(found.faults[0])


def forge(store):
    """Compute the whole chain anew, as somebody with the program can."""
    from qa.store.chain import write_head
    from qa.store.schema import STORED, readings

    with store.engine.begin() as connection:
        head = Head()
        columns = (readings.c.sequence, *(readings.c[name] for name in STORED))
        for sequence, *row in connection.execute(sa.select(*columns).order_by("sequence")).all():
            head = Head(sequence, link(head.digest, sequence, row))
            connection.execute(
                sa.update(readings).where(readings.c.sequence == sequence).values(digest=head.digest)
            )
        write_head(connection, head)


def test_a_head_kept_while_the_record_grew(filled, plan, reading):
    """An old head holds as long as nothing before it was changed; one of a lost row does not."""
    kept = str(filled.head())
    filled.append(reading(30), plan)
    assert verify(filled, kept).whole
    assert "is missing" in str(verify(filled, f"99:{'0' * 32}").faults[0])


def test_a_failed_transaction_leaves_the_chain_whole(filled, plan, reading):
    """What is rolled back leaves neither a gap nor another head."""
    with suppress(RuntimeError), filled.writing() as connection:
        assert filled.append_rows(connection, [stored_row(reading(50), plan.digest)]) == 1
        raise RuntimeError
    filled.append(reading(3), plan)  # there already
    filled.append(reading(40), plan)
    assert verify(filled).whole
    assert filled.head().sequence == 11


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
