"""Judging and advising one part, beside the least a solver must do for the same stations.

Run with `pytest --benchmark-enable tests/benchmarks`. Wanted: under 20 ms of computation each.
"""

import datetime as dt
import time

import numpy as np
import pytest
from scipy.optimize import linprog

from qa.calipers.standing import State
from qa.gate.advice import advise
from qa.gate.gate import Evidence, gate
from qa.instruments import TYPED
from qa.judge import judge_part
from qa.plans.plan import read_plan
from qa.record import BenchReading
from qa.wood import load_species
from tests.benchmarks.common import best

SIZES = {"bottom-left": 18.03, "bottom-right": 18.31, "top-left": 18.38, "top-right": 18.06}
PLAN = """
model = "m"
[parts.block]
species = "black cherry"
grain = { thickness = "radial", width = "tangential" }
[parts.block.characteristics.thickness]
kind = "thickness"
target = 18.0
tolerance = 0.15
stations = { bottom-left = [0, 0], bottom-right = [60, 0], top-left = [0, 90], top-right = [60, 90] }
[parts.block.characteristics.taper]
kind = "taper"
of = "thickness"
limit = 0.10
[parts.block.characteristics.twist]
kind = "twist"
of = "thickness"
limit = 0.12
[parts.block.characteristics.face]
kind = "flatness"
method = "heights"
limit = 0.08
stations = { a = [0, 0], b = [30, 0], c = [60, 0], d = [0, 45], e = [30, 45], f = [60, 45], g = [0, 90], \
h = [30, 90], i = [60, 90] }
[parts.block.characteristics.curve]
kind = "radius"
chord = 50
target = 240
fit_width = 60
limit = 0.15
"""


def rows():
    """One part, read twelve passes over: what a log holds after a long day."""
    random = np.random.default_rng(3)
    now = dt.datetime(2026, 3, 2, 9, tzinfo=dt.UTC)
    found = []
    places = [("thickness", name, size) for name, size in SIZES.items()]
    places += [("face", name, 0.02) for name in "abcdefghi"] + [("curve", "", 1.30)]
    for number in range(12):
        for name, station, size in places:
            value = size + 0.06 * (11 - number) * (name == "thickness") + random.normal(0, 0.005)
            moment = (now + dt.timedelta(seconds=len(found))).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
            amount, sequence = round(value * 1e6), len(found) + 1
            row = BenchReading(
                moment, "B", "block", name, station, amount, rh_percent=47.0, sequence=sequence
            )
            found.append(row)
    return found


def floor():
    """The two linear programmes that a removal may have to solve: four unknowns, then nine."""

    def solve(n):
        linprog(np.ones(n), A_ub=-np.ones((1, n)), b_ub=[-1.0], bounds=(0, 1), method="highs")

    return best(lambda: (solve(4), solve(9)), 15, time.perf_counter)


@pytest.fixture(scope="module")
def part():
    """The part and its readings."""
    return read_plan(PLAN, "m.toml"), rows()


def measured(benchmark, task):
    benchmark.pedantic(task, rounds=15, warmup_rounds=2)
    ours = benchmark.stats.stats.min
    least = floor()
    benchmark.extra_info |= {"milliseconds": 1000 * ours, "floor_milliseconds": 1000 * least}
    benchmark.extra_info["times_floor"] = ours / least
    return ours / least


@pytest.mark.parametrize(("task", "most"), [("check", 3), ("advise", 12), ("gate", 15)])
def test_one_part(benchmark, target, part, task, most):
    """As multiples of two small linear programmes, which take about 1.4 ms together on a slow core."""
    plan, found = part
    block = plan.part("block")
    now = dt.datetime(2026, 3, 2, 12, tzinfo=dt.UTC)
    bench = Evidence(
        "B", plan, found, (), lambda name: TYPED, {"": State("", "good")}, now, None, load_species({})
    )
    tasks = {
        "check": lambda: judge_part(block, found, lambda name: TYPED),
        "advise": lambda: advise(block, found, lambda name: TYPED),
        "gate": lambda: gate(bench, block),
    }
    if benchmark.disabled:
        tasks[task]()
        pytest.skip("a timing: run with --benchmark-enable")
    times = measured(benchmark, tasks[task])
    target(f"{task} of one part", benchmark.extra_info["milliseconds"], 20, "ms")
    assert times <= most
