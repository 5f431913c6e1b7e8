"""The watch sees what others store, and holds nothing up."""

from __future__ import annotations

import threading

from qa.plan import read_plan
from qa.record import BenchEvent, BenchReading
from qa.store import open_store
from qa.store_watch import StoreWatch

PLAN = read_plan(
    """
model = "m"
[parts.p.characteristics.width]
kind = "width"
target = 8
tolerance = 0.1
stations = { middle = [0, 0] }
""",
    "m.toml",
)
READING = BenchReading("2025-03-03T09:00:00.000000Z", "B-1", "p", "width", "middle", 8_000_000)


def test_the_mark_changes_with_a_reading_and_with_an_event(tmp_path):
    """Three marks, all different; and the same one while nothing happens."""
    url = f"sqlite:///{tmp_path / 'readings.db'}"
    with open_store(url) as watched, open_store(url) as other:
        watch = StoreWatch(watched)
        first = watch.mark()
        assert watch.mark() == first
        other.append(READING, PLAN)
        second = watch.mark()
        other.add_event(BenchEvent(READING.taken_at, "skip", "B-1", "p"))
        third = watch.mark()
        watch.close()

    assert len({first, second, third}) == 3


def test_the_mark_sees_what_its_own_store_appends(tmp_path):
    """The dashboard itself stores at times, through the store it watches."""
    with open_store(f"sqlite:///{tmp_path / 'readings.db'}") as store:
        watch = StoreWatch(store)
        first = watch.mark()
        store.append(READING, PLAN)
        assert watch.mark() != first
        watch.close()


def test_the_watch_may_be_asked_from_any_thread(tmp_path):
    """A mark asked from another thread is the mark asked from this one."""
    with open_store(f"sqlite:///{tmp_path / 'readings.db'}") as store:
        watch = StoreWatch(store)
        here, there = watch.mark(), []
        thread = threading.Thread(target=lambda: there.append(watch.mark()))
        thread.start()
        thread.join()
        watch.close()

    assert there == [here]
