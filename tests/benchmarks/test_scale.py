"""What is asked of a store costs by what is asked, not by how much the store holds.

Run with `pytest --benchmark-enable tests/benchmarks/test_scale.py`. DRYFIT_SCALE=7 goes to ten million rows.
"""

import itertools
import os
import time

import pytest

from dashboard.views.window import beginning, window
from qa.checking import check, check_each
from qa.drift.builds import series
from qa.drift.report import series_report
from qa.drift.track import of_points
from qa.store.newest import newest
from qa.store.store import open_store
from qa.store.verify import verify
from tests.benchmarks.common import A_BUILD, fill_by_number
from tests.benchmarks.common import best as shortest

A_SERIES = 36
ASKED = ("side", "thickness", "waist")
MOST = int(os.environ.get("DRYFIT_SCALE", "6"))


def fill(store, plan, reading, rows):
    """So many readings, the first of some builds in a series of its own."""

    def made(n, build):
        alone = n % A_BUILD == 0 and n < A_BUILD * A_SERIES
        place = dict(zip(("part", "characteristic", "station"), ASKED, strict=True)) if alone else {}
        return reading(n, (1.9 if alone else 18) + (n % 7) / 1000, build=build, **place)

    fill_by_number(store, plan, rows, made)


def best(task, times=3):
    """The shortest of a few timings, in milliseconds, waiting for the server included."""
    return 1000 * shortest(task, times, time.perf_counter)


def drift_of_one(shop, store):
    """One series, asked for, judged and charted."""
    found = series_report(of_points(*ASKED, series(shop, store, *ASKED), shop.instruments))
    assert len(found.track.made) == A_SERIES


def builds_page(shop, store):
    """What the Builds page begins with: the newest builds, judged."""
    names = beginning(lambda most: newest(store, most=most), "")
    assert len(window(names, "", lambda some: check_each(shop, store, some)).shown) == 40


def costs(url, shop, plan, reading, rows):
    """What each question costs at that size, in milliseconds."""
    with open_store(url) as store:
        fill(store, plan, reading, rows)
        later = itertools.count(rows)
        last = [f"S-{rows // A_BUILD - 1 - n:06d}" for n in range(20)]
        return {
            "check of one build": best(lambda: check(shop, store, last[0])),
            "check of the last twenty builds": best(lambda: [check(shop, store, name) for name in last], 1),
            "drift of one series of 36 builds": best(lambda: drift_of_one(shop, store)),
            "Builds page, the first time": best(lambda: builds_page(shop, store), 1),
            "Builds page": best(lambda: builds_page(shop, store)),
            "list of builds": best(store.builds, 1),
            "one reading stored": best(lambda: store.append(reading(next(later)), plan), 20),
            "verify the whole record": best(lambda: verify(store), 1),
        }  # fmt: skip


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_costs_grow_with_what_is_asked(
    asked, benchmark, target, request, kind, shop, plan, reading, tmp_path
):
    """What is asked of a large store takes at most three times that of a small one, and 20 ms more."""
    table = {}

    def all_sizes():
        for power in range(4, MOST + 1):
            url = f"sqlite:///{tmp_path}/{power}.db"
            if kind == "postgresql":
                url = request.getfixturevalue("postgres")()
            table[10**power] = costs(url, shop, plan, reading, 10**power)

    benchmark.pedantic(all_sizes, rounds=1)
    benchmark.extra_info |= {str(rows): told for rows, told in table.items()}
    small, large = table[10**4], table[max(table)]
    flat = ("check of one build", "drift of one series of 36 builds", "Builds page", "one reading stored")
    for what in flat:
        grown = large[what] / small[what]
        target(f"{what}, {kind}, among {max(table):,} readings against 10,000", grown, 3)
        assert large[what] <= 3 * small[what] + 20
