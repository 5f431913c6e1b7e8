"""What it costs to have one reading safe on the disk, beside a bare SQLite commit of one such row."""

import statistics
import time

import pytest

from qa.store.store import open_store, stored_row
from tests.benchmarks.common import bare_store, commit_bare

READINGS = 300


@pytest.fixture
def bare(tmp_path):
    """A bare connection to another store like ours."""
    connection = bare_store(tmp_path)
    yield connection
    connection.close()


def timed(task, items):
    """The time of each call, in seconds."""
    taken = []
    for item in items:
        start = time.perf_counter()
        task(item)
        taken.append(time.perf_counter() - start)
    return taken


def test_a_reading_is_safe_within_twice_a_bare_commit(
    asked, benchmark, target, tmp_path, bare, plan, reading
):
    """Medians of 300, taken in turns so that a busy disk hits both."""
    rows = [reading(n) for n in range(READINGS)]
    floor, ours = [], []
    with open_store(f"sqlite:///{tmp_path / 'store.db'}") as store:
        store.append(reading(READINGS), plan)

        def both():
            for start in range(0, READINGS, 50):
                some = rows[start : start + 50]
                floor.extend(
                    timed(lambda row: commit_bare(bare, row), [stored_row(r, plan.digest) for r in some])
                )
                ours.extend(timed(lambda row: store.append(row, plan), some))

        benchmark.pedantic(both, rounds=1)
        assert len(store.readings()) == READINGS + 1
    ratio = statistics.median(ours) / statistics.median(floor)
    benchmark.extra_info |= {
        "bare_ms": 1000 * statistics.median(floor), "ours_ms": 1000 * statistics.median(ours), "times": ratio,
    }  # fmt: skip
    target("one reading durable, against a bare commit", ratio, 2)
    assert ratio <= 2
