"""Judging a million readings, beside plain numpy comparisons of the same arrays.

Run with `pytest --benchmark-enable tests/benchmarks`.
"""

import time
import tracemalloc
from functools import partial

import numpy as np
import pytest

from qa.conformity import decide_many
from tests.benchmarks.common import best

READINGS = 1_000_000


@pytest.fixture(scope="module")
def readings():
    """A million sizes, each with its own uncertainty and limits."""
    random = np.random.default_rng(7)
    values = random.normal(18.0, 0.1, READINGS)
    u = random.uniform(0.008, 0.025, READINGS)
    return values, u, np.full(READINGS, 17.85), np.full(READINGS, 18.15)


def limits_only(values, u, lower, upper):
    """The comparison that forgets uncertainty."""
    return (values >= lower) & (values <= upper)


def guarded(values, u, lower, upper):
    """Inside the guard bands or not: the plainest comparison that uses all four arrays."""
    return (values >= lower + 1.645 * u) & (values <= upper - 1.645 * u)


def test_a_million_verdicts(asked, benchmark, target, readings):
    """Three-way verdicts cost at most 2 guarded comparisons (about 1.4), and 6 that forget uncertainty.

    Of the latter 4.5 to 5.2 on a shared core; they read three arrays where a verdict reads four.
    """
    bare, guard = (best(partial(each, *readings), 9, time.perf_counter) for each in (limits_only, guarded))
    benchmark.pedantic(decide_many, args=readings, rounds=15, warmup_rounds=2)
    ours = benchmark.stats.stats.min
    benchmark.extra_info |= {"times_limits_only": ours / bare, "times_guarded": ours / guard}
    target("verdicts on 1,000,000 readings, against numpy comparing them", ours / bare, 5)
    assert ours <= 2 * guard
    assert ours <= 6 * bare


def test_a_million_verdicts_fit_in_little_memory(target, readings):
    """Working memory stays under 100 MB: readings are judged a cache's worth at a time."""
    tracemalloc.start()
    try:
        decide_many(*readings)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    target("memory of verdicts on 1,000,000 readings", peak / 1e6, 100, "MB")
    assert peak < 100e6
