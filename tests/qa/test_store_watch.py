"""The watch sees what others store, on both databases, and holds nothing up."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from contextlib import closing

import pytest

from qa.errors import ServerGone, StoreError
from qa.record import BenchEvent
from qa.store.store import open_store
from qa.store.watch import StoreWatch


@pytest.fixture
def watch(store):
    """A watch over the open store."""
    made = StoreWatch(store)
    yield made
    made.close()


def _after(watch, mark):
    """The mark once it has changed; a server tells of a commit a moment after it, within a second."""
    until = time.monotonic() + 1
    while watch.mark() == mark and time.monotonic() < until:
        time.sleep(0.005)
    return watch.mark()


def test_the_mark_changes_with_a_reading_and_with_an_event(store_url, watch, plan, reading):
    """Three marks, all different; and the same one while nothing happens."""
    with open_store(store_url) as other:
        first = watch.mark()
        assert watch.mark() == first
        other.append(reading(), plan)
        second = _after(watch, first)
        other.add_event(BenchEvent(reading().taken_at, "skip", "PG-01", "tail-block"))
        third = _after(watch, second)

    assert len({first, second, third}) == 3
    assert watch.mark() == third


def test_the_mark_sees_what_its_own_store_appends(store, watch, plan, reading):
    """The dashboard itself stores at times, through the store it watches."""
    first = watch.mark()
    store.append(reading(), plan)
    assert _after(watch, first) != first


def test_the_watch_may_be_asked_from_any_thread(watch):
    """A mark asked from another thread is the mark asked from this one."""
    here, there = watch.mark(), []
    thread = threading.Thread(target=lambda: there.append(watch.mark()))
    thread.start()
    thread.join()

    assert there == [here]


def test_a_damaged_file_is_said(tmp_path):
    """As a StoreError, like all that stands in the way of a store."""
    path = tmp_path / "store.db"
    with open_store(f"sqlite:///{path}") as store, closing(StoreWatch(store)) as watch:
        store.engine.dispose()
        path.write_bytes(b"no database" * 1000)
        with pytest.raises(StoreError, match="damaged"):
            watch.mark()


def look_for_long(watch):
    """Ask again and again for ten seconds."""
    for _ in range(200):
        watch.mark()
        time.sleep(0.05)


def test_a_watch_that_lost_its_server_goes_on(postgres, plan, reading):
    """The first look after it was cut off fails or differs; then it tells as before."""
    url = postgres()
    with open_store(url) as store, open_store(url) as other, closing(StoreWatch(store)) as watch:
        first = watch.mark()
        with other.writing() as connection:
            connection.exec_driver_sql(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE query LIKE 'LISTEN%%' AND pid <> pg_backend_pid()"
            )
        with pytest.raises(ServerGone, match="cannot be reached"):
            look_for_long(watch)
        again = watch.mark()
        assert again != first
        assert watch.mark() == again
        other.append(reading(), plan)
        assert _after(watch, again) != again


WAIT_FOR_IT = """
import sys, time
from qa.store.store import open_store
from qa.store.watch import StoreWatch
with open_store(sys.argv[1]) as store:
    watch = StoreWatch(store)
    mark = watch.mark()
    print("ready", flush=True)
    until = time.monotonic() + 30
    while watch.mark() == mark and time.monotonic() < until:
        time.sleep(0.02)
    print(time.time(), store.readings()[-1].taken_at, flush=True)
    watch.close()
"""


def test_another_bench_sees_a_reading_within_a_second(store_url, plan, reading):
    """Two programs over one store: what one has stored the other knows, and finds there."""
    with open_store(store_url) as store:
        store.append(reading(), plan)
        words = [sys.executable, "-c", WAIT_FOR_IT, store_url]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as other:
            assert other.stdout.readline() == "ready\n"
            store.append(reading(1), plan)
            stored = time.time()
            seen, taken_at = other.stdout.readline().split()
    assert taken_at == reading(1).taken_at
    assert float(seen) - stored < 1
