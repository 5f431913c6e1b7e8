"""Backup, restore and moving: the copy has every row, is checked, and never writes over anything."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qa.errors import StoreError
from qa.record import BenchEvent
from qa.store.copy import backup, copy, digest_of, restore
from qa.store.store import open_store
from qa.store.verify import verify


@pytest.fixture
def filled(store, plan, reading):
    """A store with readings of every sort and an event."""
    for n in range(6):
        store.append(reading(n, 18 + n / 1000, rh_percent=45.1, temp_c=1 / 3, note="é ½ \u2028"), plan)
    store.append(reading(7, 0.709, held=True, suspect="inches?"), plan)
    store.append(replace(reading(8), millionths=None, corrects=2, why="undone"), plan)
    store.add_event(
        BenchEvent(
            "2025-03-01T09:00:00.000000Z", "glue", "PG-01", body={"clamps": 6, "a": [1.5, None, "é \u2028"]}
        )
    )
    return store


@pytest.fixture(params=["sqlite", "postgresql"])
def empty(request, tmp_path):
    """Another store, empty: once SQLite, once PostgreSQL."""
    url = f"sqlite:///{tmp_path / 'other.db'}"
    if request.param == "postgresql":
        url = request.getfixturevalue("postgres")()
    with open_store(url) as made:
        yield made


def test_a_copy_is_the_same_store(filled, empty, plan, reading):
    """From either database to either: the same rows in the same order, and it goes on from there."""
    copied = copy(filled, empty)
    assert copied.rows == {"plans": 1, "builds": 1, "readings": 8, "events": 1}
    assert empty.readings() == filled.readings()
    assert empty.events() == filled.events()
    assert empty.builds() == filled.builds()
    assert digest_of(filled) == digest_of(empty) == copied.digest
    assert verify(empty).head == verify(filled).head == copied.head
    assert verify(empty).whole
    assert empty.append(reading(1, 18.001), plan) == 2  # the second reading again
    assert empty.append(reading(50), plan) > 8
    assert empty.add_event(BenchEvent("2025-03-01T10:00:00.000000Z", "note")) == 2


def test_a_backup_and_back(filled, empty, tmp_path):
    """One file, which appears only when it is whole, and which fills an empty store."""
    path = tmp_path / "backup.db"
    made = backup(filled, path)
    assert sorted(item.name for item in tmp_path.glob("backup*")) == ["backup.db"]
    assert restore(path, empty).digest == made.digest
    assert empty.readings() == filled.readings()


def test_a_backup_is_taken_while_the_store_is_written_to(sqlite_store, plan, reading, tmp_path):
    """It holds the store as it stood when it began."""
    sqlite_store.append(reading(0), plan)
    backup(sqlite_store, tmp_path / "b.db", lambda rows: sqlite_store.append(reading(100 + rows), plan))
    with open_store(f"sqlite:///{tmp_path / 'b.db'}") as copied:
        assert len(copied.readings()) == 1
    assert len(sqlite_store.readings()) > 1


def test_nothing_is_written_over(filled, sqlite_store, tmp_path, plan, reading):
    """Neither a file nor a store that holds anything."""
    path = tmp_path / "backup.db"
    path.write_text("mine")
    with pytest.raises(StoreError, match="exists already"):
        backup(filled, path)
    assert path.read_text() == "mine"
    with pytest.raises(StoreError, match="not a file"):
        restore(tmp_path / "nothing.db", sqlite_store)
    sqlite_store.append(reading(99), plan)
    good = tmp_path / "good.db"
    backup(filled, good)
    with pytest.raises(StoreError, match="already has"):
        restore(good, sqlite_store)


def test_a_file_that_is_no_backup(sqlite_store, tmp_path):
    """Is named as that, and nothing is stored."""
    path = tmp_path / "b.db"
    path.write_bytes(b"not a database " * 300)
    with pytest.raises(StoreError, match="not a Dryfit store"):
        restore(path, sqlite_store)
    assert sqlite_store.readings() == []


def test_what_a_broken_backup_left_is_no_hindrance(filled, tmp_path):
    """A backup cut off by a power cut leaves a part that the next one replaces."""
    (tmp_path / "b.db.part").write_bytes(b"half")
    backup(filled, tmp_path / "b.db")
    assert not (tmp_path / "b.db.part").exists()


FLOATS = st.none() | st.floats(allow_nan=False, allow_infinity=False)


@settings(max_examples=5, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.lists(st.tuples(st.integers(-(2**62), 2**62), FLOATS, st.text(max_size=10)), max_size=5))
def test_any_rows_are_alike_in_both_databases(postgres, plan, reading, tmp_path_factory, rows):
    """Every number to its last bit, every text to its last letter."""
    place = tmp_path_factory.mktemp("copy")
    with open_store(f"sqlite:///{place}/a.db") as source, open_store(postgres()) as target:
        for n, (amount, rh, note) in enumerate(rows):
            text = note.replace("\x00", "")
            source.append(reading(n, millionths=amount, rh_percent=rh, note=text), plan)
        copy(source, target)
        assert target.readings() == source.readings()
