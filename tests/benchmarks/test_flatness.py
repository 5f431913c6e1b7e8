"""Minimum-zone flatness of a scanned face, beside reading the points once.

Run with `pytest --benchmark-enable tests/benchmarks`.
"""

import time

import numpy as np
import pytest

from qa.geometry import flatness, least_squares_flatness
from tests.benchmarks.common import best

POINTS = 100_000


def face(kind):
    """A face of 300 by 500 mm: rough, rough on a 0.01 mm grid, tilted, or dished to a radius."""
    random = np.random.default_rng(11)
    stations = random.uniform(0, [300, 500], (POINTS, 2))
    rough = random.normal(0, 0.02, POINTS)
    heights = {
        "rough": rough,
        "rounded": np.round(rough, 2),
        "tilted": rough + stations @ [0.1, -0.3],
        "dished": ((stations - [150, 250]) ** 2).sum(axis=1) / (2 * 7620),
    }
    return np.column_stack([stations, heights[kind]])


@pytest.mark.parametrize("kind", ["rough", "rounded", "tilted", "dished"])
def test_flatness_of_a_scan(asked, benchmark, target, kind):
    """100,000 points take under a second, and not more than 20 least-squares fits of them."""
    points = face(kind)
    floor = best(lambda: least_squares_flatness(points), 5, time.perf_counter)
    width = benchmark.pedantic(flatness, args=(points,), rounds=5, warmup_rounds=1)
    benchmark.extra_info["times_least_squares"] = benchmark.stats.stats.min / floor
    assert width <= least_squares_flatness(points)
    target(f"flatness of 100,000 points, {kind}", benchmark.stats.stats.max, 1, "s")
    assert benchmark.stats.stats.max < 1.0
    assert benchmark.stats.stats.min <= 20 * floor
