"""The least removal, beside one linear programme of the same size.

Run with `pytest --benchmark-enable tests/benchmarks`.
"""

import time

import numpy as np
from scipy.optimize import linprog

from qa.stock import removal
from tests.benchmarks.common import best


def test_removal_of_a_part(asked, benchmark, target):
    """Nine stations with taper and twist limits: under 20 ms, and at most 10 bare linear programmes."""
    stations = np.array([[x, y] for x in (0.0, 30.0, 60.0) for y in (0.0, 45.0, 90.0)])
    points = np.column_stack([stations, 18.2 + np.random.default_rng(5).normal(0, 0.1, 9)])
    rows = np.vstack([np.sign(stations[:, 1] - 45), -np.sign(stations[:, 1] - 45)])

    def bare():
        return linprog(np.ones(9), A_ub=rows, b_ub=[0.1, 0.1], bounds=(0, 1), method="highs")

    floor = best(bare, 9, time.perf_counter)
    found = benchmark.pedantic(
        removal,
        args=(points, 18.0, 17.7, 18.3, 0.02),
        kwargs={"twist_limit": 0.02},
        rounds=20,
        warmup_rounds=1,
    )
    benchmark.extra_info["times_bare_programme"] = benchmark.stats.stats.min / floor
    assert found.say == "take off"
    target("least removal of a part", 1000 * benchmark.stats.stats.median, 20, "ms")
    assert benchmark.stats.stats.median < 0.020
    assert benchmark.stats.stats.min <= 10 * floor
