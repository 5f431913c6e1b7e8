"""The store keeps every reading for ever, once, on SQLite and on PostgreSQL alike."""

import os
import sqlite3
import subprocess
import sys
import threading
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qa.errors import StoreError
from qa.plans.plan import read_plan
from qa.record import BenchEvent
from qa.store.schema import KEPT_FOR_EVER
from qa.store.store import open_store

NAMES = [table.name for table in KEPT_FOR_EVER]


def test_a_reading_comes_back_as_it_was_stored(store, plan, reading):
    """Every field is kept; the store adds the plan's digest and its own order."""
    row = reading(1, 18.02, as_entered="18.02 mm", rh_percent=45.5, temp_c=20.0, note="é ½", machine="plane")
    sequence = store.append(row, plan)
    assert store.readings() == [replace(row, sequence=sequence, plan=plan.digest)]
    assert store.plan_text(plan.digest) == plan.text


def test_a_retry_never_doubles(store, plan, reading):
    """The same reading appended again gives the sequence of the first, and adds nothing."""
    first = [store.append(reading(n), plan) for n in range(4)]
    again = [store.append(reading(n), plan) for n in range(4)]
    assert again == first
    assert len(store.readings()) == 4


def test_readings_that_differ_in_anything_of_their_own_are_kept_apart(store, plan, reading):
    """Another moment, build, part, place, amount, unit, instrument or correction is another reading."""
    row = reading(0)
    others = [
        row, reading(4), replace(row, build="PG-02"), replace(row, part="side"),
        replace(row, characteristic="width"), replace(row, station="top-left"), replace(row, millionths=1),
        replace(row, unit="%"), replace(row, instrument=""), replace(row, corrects=1),
        replace(row, millionths=None, corrects=1),
    ]  # fmt: skip
    for item in others:
        store.append(item, plan)
    assert len(store.readings()) == len(others)


@pytest.mark.parametrize("table", NAMES)
@pytest.mark.parametrize("change", ["UPDATE {} SET {} = '1'", "DELETE FROM {}"])
def test_nothing_stored_is_changed_or_deleted(store, plan, reading, table, change):
    """The database itself refuses, whatever program asks."""
    store.append(reading(), plan)
    store.add_event(BenchEvent("2025-03-01T09:00:00.000000Z", "skip"))
    column = {"events": "text", "builds": "model", "plans": "model", "readings": "note"}[table]
    with pytest.raises(StoreError, match="nothing in the store is changed or deleted"), store.writing() as c:
        c.exec_driver_sql(change.format(table, column))
    assert len(store.readings()) == len(store.events()) == len(store.builds()) == 1


def test_a_table_of_postgresql_is_not_emptied_either(postgres, plan, reading):
    """TRUNCATE is refused too."""
    with open_store(postgres()) as store:
        store.append(reading(), plan)
        with pytest.raises(StoreError, match="kept for ever"), store.writing() as connection:
            connection.exec_driver_sql("TRUNCATE readings")
        assert len(store.readings()) == 1


def test_a_build_keeps_its_model(store, plan, reading):
    """A build begun as one model cannot be read as another; nothing of that reading is stored."""
    store.append(reading(0), plan)
    other = read_plan(plan.text.replace("parlour-guitar", "octave-mandolin"), "other.toml")
    with open_store(store.engine.url.render_as_string(hide_password=False)) as another:
        with pytest.raises(StoreError, match="was begun as 'parlour-guitar'"):
            another.append(reading(1), other)
        assert len(another.readings()) == 1
        assert another.plan_text(other.digest) is None


def test_builds_come_in_the_order_they_were_begun(store, plan, reading):
    """By the first reading taken, not by when it was stored or by name."""
    for second, build in ((30, "A"), (10, "C"), (20, "B"), (5, "B")):
        store.append(reading(second, build=build), plan)
    assert list(store.builds()) == ["B", "C", "A"]
    assert list(store.builds(["A", "C", "nobody"])) == ["C", "A"]
    assert store.build("nobody") is None
    assert store.builds([]) == {}


def test_more_names_than_one_query_may_hold(sqlite_store, plan, reading):
    """Asking for very many builds or keys works."""
    sqlite_store.append(reading(), plan)
    names = [f"build {n}" for n in range(40_000)]
    assert list(sqlite_store.builds([*names, "PG-01"])) == ["PG-01"]
    with sqlite_store.reading() as connection:
        keys = [n.to_bytes(16, "big") for n in range(40_000)]
        assert list(sqlite_store.keys_stored(connection, [*keys, reading().key])) == [reading().key]


def test_a_failed_transaction_stores_nothing(store, plan, reading):
    """All of a transaction is stored, or none of it."""
    with suppress(RuntimeError), store.writing() as connection:
        store.note_build(connection, "PG-09", plan)
        raise RuntimeError
    assert not store.builds()
    assert store.last_sequence() == 0


def test_many_writers_lose_and_double_nothing(store_url, plan, reading):
    """Four benches that append at once, each row tried twice: every row is there once."""
    open_store(store_url).close()
    faults = []

    def write(bench):
        try:
            with open_store(store_url) as mine:
                for second in range(25):
                    for _ in range(2):
                        mine.append(reading(second, bench=bench, instrument=bench), plan)
        except Exception as error:
            faults.append(error)

    threads = [threading.Thread(target=write, args=(f"bench {n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    with open_store(store_url) as store:
        rows = store.readings()
    assert len(rows) == 100
    assert len({(row.bench, row.taken_at) for row in rows}) == 100


def test_a_store_opened_by_several_programs_at_once_is_made_once(store_url, plan, reading):
    """A new store that two benches open at the same moment serves both."""
    faults = []
    start = threading.Barrier(4)

    def make(number):
        try:
            start.wait()
            with open_store(store_url) as mine:
                mine.append(reading(number), plan)
        except Exception as error:
            faults.append(error)

    threads = [threading.Thread(target=make, args=(n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    with open_store(store_url) as store:
        assert len(store.readings()) == 4


def test_a_store_of_a_newer_version_is_refused(store_url):
    """An older program does not touch what it does not know."""
    with open_store(store_url) as store, store.writing() as connection:
        connection.exec_driver_sql("UPDATE meta SET value = '999' WHERE name = 'version'")
    with pytest.raises(StoreError, match="newer"):
        open_store(store_url)


@pytest.mark.parametrize(
    ("url", "words"),
    [
        ("nonsense", "cannot be used"),
        ("mysql+nothing://x/y", "cannot be used"),
        ("sqlite:////no/such/folder/x.db", "cannot be opened"),
        ("postgresql+psycopg://nobody@127.0.0.1:1/x?connect_timeout=2", "cannot be reached"),
    ],
)
def test_an_address_without_a_store(url, words):
    """One line that says what to do."""
    with pytest.raises(StoreError, match=words) as caught:
        open_store(url)
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize("name", ["what?", "100%", "a #1 & more", "ü ½", "file:x?mode=memory"])
def test_any_folder_holds_its_own_store(tmp_path, plan, reading, name):
    """Whatever signs are in its name: the file is there and nowhere else."""
    folder = tmp_path / name
    folder.mkdir()
    with open_store(f"sqlite:///{folder / 'store.db'}") as store:
        store.append(reading(), plan)
    assert (folder / "store.db").stat().st_size > 0
    assert list(tmp_path.iterdir()) == [folder]


def test_a_file_that_is_no_store(tmp_path):
    """A file of something else is named as that and left alone."""
    path = tmp_path / "readings.db"
    path.write_bytes(b"something else entirely " * 400)
    with pytest.raises(StoreError, match="not a Dryfit store"):
        open_store(f"sqlite:///{path}")
    assert path.read_bytes() == b"something else entirely " * 400


def test_a_store_that_another_program_holds_locked(tmp_path, plan, reading, monkeypatch):
    """A writer that waited in vain says so; readers are served all the while."""
    monkeypatch.setattr("qa.store.engine.WAIT_FOR_LOCK_MS", 50)
    path = tmp_path / "store.db"
    with open_store(f"sqlite:///{path}") as store:
        store.append(reading(0), plan)
        holder = sqlite3.connect(path, isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="in use by another program"):
            store.append(reading(1), plan)
        assert len(store.readings()) == 1
        holder.execute("ROLLBACK")
        holder.close()
        store.append(reading(1), plan)
        assert len(store.readings()) == 2


def test_commits_are_forced_to_the_disk(sqlite_store):
    """Write-ahead log, and every commit synced: an acknowledged reading outlives a power cut."""
    with sqlite_store.reading() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2


WRITE_ON = """
import sys
from qa.plans.plan import read_plan
from qa.record import BenchReading
from qa.store.store import open_store
plan = read_plan(open(sys.argv[2]).read(), "p.toml")
with open_store(sys.argv[1]) as store:
    for n in range(100000):
        moment = f"2025-03-01T09:{n // 60 % 60:02d}:{n % 60:02d}.{n:06d}Z"
        row = BenchReading(moment, "PG-01", "tail-block", "thickness", "top-left", n)
        print(store.append(row, plan), flush=True)
"""


@pytest.mark.parametrize("acknowledged", [1, 7, 40])
def test_an_acknowledged_reading_outlives_the_program(store_url, tmp_path, plan, acknowledged):
    """Killed at any moment, a writer has lost nothing it acknowledged and stored at most one row more."""
    (tmp_path / "p.toml").write_text(plan.text, encoding="utf-8")
    program = [sys.executable, "-c", WRITE_ON, store_url, str(tmp_path / "p.toml")]
    with subprocess.Popen(program, stdout=subprocess.PIPE, text=True) as writer:
        seen = [writer.stdout.readline() for _ in range(acknowledged)]
        writer.kill()
        seen += writer.stdout.readlines()
    told = [int(line) for line in seen if line.endswith("\n")]
    with open_store(store_url) as store:
        amounts = [row.millionths for row in store.readings()]
    assert amounts == list(range(len(amounts)))
    assert len(told) <= len(amounts) <= len(told) + 1
    assert len(told) >= acknowledged


NOBODY = 65534


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become another user")
@pytest.mark.parametrize("folder_too", [False, True])
def test_a_read_only_store_can_be_read(tmp_path_factory, plan, reading, folder_too):
    """Another user without write access reads it, and is told plainly that it cannot write."""
    place = tmp_path_factory.mktemp("ro").name  # pytest's own folder is closed to others
    home = Path("/tmp") / f"{place} 100% #1?"  # noqa: S108
    home.mkdir()
    try:
        with open_store(f"sqlite:///{home}/store.db") as store:
            store.append(reading(), plan)
        (home / "store.db").chmod(0o444)
        home.chmod(0o555 if folder_too else 0o777)
        pid = os.fork()
        if pid == 0:  # another user, who leaves with what it saw
            status = 1
            try:
                os.setgid(NOBODY)
                os.setuid(NOBODY)
                status = _as_reader(f"sqlite:///{home}/store.db", plan, reading)
            finally:
                os._exit(status)
        assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
    finally:
        home.chmod(0o700)
        for path in home.iterdir():
            path.unlink()
        home.rmdir()


def _as_reader(url, plan, reading):
    with open_store(url) as store:
        if len(store.readings()) != 1 or list(store.builds()) != ["PG-01"]:
            return 2
        try:
            store.append(reading(1), plan)
        except StoreError as error:
            return 0 if "read-only" in str(error) else 3
    return 4


EVENTS = st.dictionaries(
    st.text(min_size=1, max_size=5).filter(lambda t: "\x00" not in t),
    st.integers(-5, 5) | st.text(max_size=5).filter(lambda t: "\x00" not in t) | st.booleans(),
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=EVENTS, text=st.text(max_size=20).filter(lambda t: "\x00" not in t))
def test_events_come_back_as_they_were_stored(store, body, text):
    """Any text and any body of an event is kept whole."""
    event = BenchEvent("2025-03-01T09:00:00.000000Z", "note", "PG-01", text=text, body=body)
    sequence = store.add_event(event)
    assert store.events("note", "PG-01")[-1] == replace(event, sequence=sequence)


def test_events_are_found_by_kind_build_and_part(store):
    """Each of them narrows the search."""
    for kind, build, part in (("skip", "A", "x"), ("glue", "A", "x"), ("skip", "B", "y")):
        store.add_event(BenchEvent("2025-03-01T09:00:00.000000Z", kind, build, part))
    assert [e.build for e in store.events("skip")] == ["A", "B"]
    assert [e.kind for e in store.events(build="A")] == ["skip", "glue"]
    assert [e.kind for e in store.events(part="y")] == ["skip"]


def test_a_read_inside_a_transaction_sees_it(store, plan):
    """What a transaction has noted is seen by its own reads."""
    with store.writing() as connection:
        store.note_build(connection, "PG-05", plan)
        assert list(store.builds(["PG-05"], connection)) == ["PG-05"]
        assert connection.execute(sa.text("SELECT count(*) FROM builds")).scalar() == 1
