"""What the charts and the comparison of causes find and miss, by simulation: seeded, 2,000 repetitions each.

Run with `pytest --benchmark-enable -s tests/benchmarks/test_simulation_study.py`; it prints its tables.
"""

from concurrent.futures import ProcessPoolExecutor
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from qa.causes import likely as causes
from qa.causes.design import by_kind, design
from qa.causes.panel import AT_THE_CUT, SINCE_THE_CUT, Panel
from qa.causes.scores import greatest_gains, scatter
from qa.charts import cusum, ewma, individuals, run_rules, self_starting
from qa.drift.chart import BASELINE, Spread, chart

REPETITIONS = 2000
SEED = 2751
SHIFTS = (0.5, 1.0, 2.0, 3.0)
COUNTS = (5, 8, 12, 20, 30, 40)
LENT_DOF = 8.0


def builds_signalling(points, n):
    """A flag a build."""
    flags = np.zeros(n, bool)
    flags[list(points)] = True
    return flags


def default_chart(values, lent=None):
    """The chart a series gets by default."""
    return builds_signalling([s.index for s in chart(values, lent=lent).signals], len(values))


def steadied_chart(values):
    """The default chart, its spread steadied by sister series."""
    return default_chart(values, Spread(1.0, LENT_DOF))


def textbook(values, kind):
    """A chart of the textbooks, its limits from the first eight builds as if they were known."""
    base = np.asarray(values[:BASELINE])
    if len(values) < BASELINE:
        return np.zeros(len(values), bool)
    center, sigma = float(base.mean()), individuals(base.tolist()).sigma
    found = {
        "individuals": lambda: individuals(values, baseline=BASELINE).signals,
        "ewma": lambda: ewma(values, center, sigma, 0.2, 2.86).signals,
        "cusum": lambda: cusum(values, center, sigma).signals,
        "rules": lambda: run_rules(values, center, sigma),
    }[kind]()
    return builds_signalling([s.index for s in found if s.index >= BASELINE], len(values))


def scored(values):
    """Self-starting scores beyond three."""
    return builds_signalling([s.index for s in self_starting(values).signals], len(values))


CHARTS = {
    "default": default_chart,
    "default, spread lent": steadied_chart,
    "self-starting": scored,
    "individuals": lambda values: textbook(values, "individuals"),
    "EWMA": lambda values: textbook(values, "ewma"),
    "CUSUM": lambda values: textbook(values, "cusum"),
    "eight run rules": lambda values: textbook(values, "rules"),
}


def drawn(number, builds, lent):
    """Series of standard normal builds; where a spread is lent, series differ in theirs as sisters do."""
    random = np.random.default_rng([SEED, number])
    values = random.standard_normal((REPETITIONS, builds))
    spread = np.sqrt(LENT_DOF / random.chisquare(LENT_DOF, (REPETITIONS, 1))) if lent else 1.0
    return values, spread


def false_alarms(name):
    """New alarms per 100 builds at rest among the first n, for every n of COUNTS."""
    values, spread = drawn(1, max(COUNTS), "lent" in name)
    flags = np.array([CHARTS[name](row.tolist()) for row in values * spread])
    fresh = flags & ~np.hstack([np.zeros((REPETITIONS, 1), bool), flags[:, :-1]])
    return [100 * float(fresh[:, :n].mean()) for n in COUNTS]


def delays(task):
    """Share of a lasting shift found within 4 builds, and the median builds to the first signal (of 16)."""
    name, before, shift = task
    values, spread = drawn(2 + before, before + 16, "lent" in name)
    values[:, before:] += shift
    found = np.array([CHARTS[name](row.tolist())[before:] for row in values * spread])
    first = np.where(found.any(axis=1), found.argmax(axis=1) + 1, 17)
    return float(found[:, :4].any(axis=1).mean()), float(np.median(first))


# The shop of the stories: series, their machine ("" for a difference) and standard deviation in mm.
SERIES = {
    "neck block": ("hand plane", 0.054),
    "tail block": ("hand plane", 0.054),
    "lining height": ("hand plane", 0.054),
    "side left": ("drum sander", 0.043),
    "side right": ("drum sander", 0.043),
    "top": ("drum sander", 0.045),
    "back": ("drum sander", 0.043),
    "patch": ("drum sander", 0.035),
    "veneer": ("drum sander", 0.035),
    "binding": ("drum sander", 0.036),
    "brace": ("table saw", 0.055),
    "lining width": ("table saw", 0.055),
    "neck taper": ("", 0.035),
    "tail taper": ("", 0.056),
    "left less right": ("", 0.04),
    "moved": ("", 0.022),
}
NAMES = tuple(SERIES)
BUILDS = 36
SWELLING = np.repeat([0.03, 0.03, 0.14, -0.03, -0.09, 0.03, -0.03, 0.03, -0.03], 4)
TRUTH = {
    "fence": ("machine", "table saw"),
    "season": ("humidity", SINCE_THE_CUT),
    "bench": ("bench", "South: tail taper"),
    "caliper": ("instrument", "CAL-2"),
    "nothing": None,
}


def story(name, size):
    """What a story adds to every reading[builds, series], `size` times as much as in the demo shop."""
    number, added = np.arange(1, BUILDS + 1), np.zeros((BUILDS, len(NAMES)))
    south = number % 2 == 0
    if name == "fence":
        creep = np.where(number < 9, 0, np.where(number < 23, 0.02 * (number - 8), 0.01))
        added[:, [NAMES.index("brace"), NAMES.index("lining width")]] = creep[:, None]
    if name == "season":
        added[:, NAMES.index("moved")] = SWELLING
    if name == "bench":
        added[:, NAMES.index("tail taper")] = np.where(south, np.where(number < 30, 0.13, 0.04), 0.01)
    if name == "caliper":
        absolute = [bool(machine) for machine, _ in SERIES.values()]
        added[np.ix_(np.isin(number, (26, 28, 30)), absolute)] = 0.06
    return added * size


@cache
def shop():
    """The panel without readings, its layout, and the gains of each kind of cause in 1,000 quiet shops."""
    machines = np.array([machine for machine, _ in SERIES.values()])
    north = np.arange(BUILDS) % 2 == 0
    settled = np.full((BUILDS, len(NAMES)), np.nan)
    settled[:, NAMES.index("moved")] = SWELLING
    blank = Panel(
        tuple(f"B-{n:02d}" for n in range(1, BUILDS + 1)),
        NAMES,
        np.zeros((BUILDS, len(NAMES))),
        np.tile(np.where(north, "CAL-1", "CAL-2")[:, None], (1, len(NAMES))),
        np.tile(machines, (BUILDS, 1)),
        np.where(north, "North", "South"),
        machines != "",
        settled,
    )
    layout = design(blank)
    quiet = [np.random.default_rng([SEED, 9, i]).standard_normal(settled.shape) for i in range(1000)]
    every = np.ones(settled.shape, bool)
    drawn = [causes.centred(values, every) for values in quiet]
    return blank, layout, {
        kind: np.array([greatest_gains(own, left[None], scatter(blank, left))[0] for left in drawn])
        for kind, own in by_kind(layout).items()
    }  # fmt: skip


def named(name, size, repetition):
    """The causes named in one shop: (kind, name), those settled."""
    blank, layout, gains = shop()
    random = np.random.default_rng([SEED, 10, repetition])
    values = random.standard_normal((BUILDS, len(NAMES))) * [sd for _, sd in SERIES.values()]
    panel = Panel(
        blank.builds, NAMES, values + story(name, size), blank.instruments, blank.machines, blank.benches,
        blank.absolute, blank.settled,
    )  # fmt: skip
    found, _ = causes.search(panel, layout, causes.PLAIN_GAIN)
    return [
        score.candidate.cause
        for score, rival in found
        if causes.chance(gains, score, len(gains) + 1) <= causes.ALPHA
        and (rival is None or rival[1] >= causes.MARGIN)
    ]


def told(task):
    """Shares of shops with the right cause and no other, any wrong one, and can't tell.

    "It moved by itself" of a series of the story names no cause; of another series it is wrong.
    """
    name, size = task
    moved = {NAMES[j] for j in np.flatnonzero(np.abs(story(name, 1)).sum(axis=0))}
    counts = np.zeros(3)
    for repetition in range(REPETITIONS):
        found = [c for c in named(name, size, repetition) if not (c[0] == "time" and c[1] in moved)]
        wrong = [c for c in found if c != TRUTH[name]]
        counts[1 if wrong else 0 if found else 2] += 1
    return counts / REPETITIONS


def table(head, rows):
    """Print a table in Markdown."""
    print("\n| " + " | ".join(head) + " |\n|" + "---|" * len(head))  # noqa: T201 - the study's result
    for row in rows:
        print("| " + " | ".join(row) + " |")  # noqa: T201


@pytest.fixture
def spread_out(asked, benchmark):
    """Both cores, and only where benchmarks are asked for."""
    with ProcessPoolExecutor(2) as pool:
        yield lambda task, over: benchmark.pedantic(lambda: list(pool.map(task, over)), rounds=1)


def test_false_alarms(spread_out, target):
    """The default chart gives at most one new alarm in 100 builds at rest, whatever the number of builds."""
    found = dict(zip(CHARTS, spread_out(false_alarms, CHARTS), strict=True))
    table(("new alarms per 100 builds at rest, n =", *map(str, COUNTS)),
          [(name, *(f"{rate:.2f}" for rate in rates)) for name, rates in found.items()])  # fmt: skip
    lent = found["default, spread lent"]
    target("new alarms in 100 builds at rest", max(*found["default"], *lent), 1, "alarms")
    assert max(found["default"]) <= 1.05
    assert max(found["default, spread lent"]) <= 1.05
    assert found["eight run rules"][-1] > 3


def test_builds_to_detection(spread_out, target):
    """A step of two sigma is found within four builds in 60 % of runs from 8 builds' own spread, 70 % with
    sister series' lent, 80 % from 20 builds; larger steps more surely."""
    tasks = [(name, before, shift) for name in CHARTS for before in (8, 20) for shift in SHIFTS]
    found = dict(zip(tasks, spread_out(delays, tasks), strict=True))
    rows = [
        (name, str(before), *(f"{s:.0%} ({d:.0f})" if d <= 16 else f"{s:.0%} (>16)" for s, d in
                              (found[name, before, shift] for shift in SHIFTS)))
        for name in CHARTS for before in (8, 20)
    ]  # fmt: skip
    table(("within 4 builds (median builds), shift in sigma:", "builds before", *map(str, SHIFTS)), rows)
    share = 100 * found["default, spread lent", 8, 2.0][0]
    target("shift of two sigma found within 4 builds", share, 80, "%", least=True)
    assert found["default", 8, 2.0][0] >= 0.58
    assert found["default, spread lent", 8, 2.0][0] >= 0.70
    assert found["default", 20, 2.0][0] >= 0.80
    shares = [found["default", 8, shift][0] for shift in SHIFTS]
    assert all(a < b for a, b in pairwise(shares))


def test_causes_of_the_stories(spread_out, target):
    """At the demo's size the right cause, alone, in at least 80 % of shops, a wrong one in under 5 %."""
    tasks = [(name, size) for name in TRUTH for size in (0.5, 1.0, 2.0)][:-2]
    found = dict(zip(tasks, spread_out(told, tasks), strict=True))
    rows = [(name, f"{size:g}", *(f"{share:.1%}" for share in found[name, size])) for name, size in tasks]
    table(("story", "size", "right", "wrong", "can't tell"), rows)
    for name in TRUTH:
        if name != "nothing":
            target(f"the right cause named: {name}", 100 * found[name, 1.0][0], 80, "%", least=True)
            assert found[name, 1.0][0] >= 0.80
            assert found[name, 1.0][1] < 0.05
    assert found["nothing", 0.5][1] < 0.05
    assert AT_THE_CUT not in {cause[1] for cause in TRUTH.values() if cause}
