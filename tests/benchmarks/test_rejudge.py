"""Judging again after a failed check costs by what was read since the last good one, not by the store.

Run with `pytest --benchmark-enable tests/benchmarks/test_rejudge.py -s`.
"""

import datetime as dt
import time
from decimal import Decimal

import pytest

from qa.calipers.check import keep_check, rejudge
from qa.checking import check
from qa.store.store import open_store
from tests.benchmarks.common import A_BUILD, best, fill_by_number

SINCE = 10  # builds since the last good check, every other one by that caliper
BEGUN = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC)  # as the fixture `reading` begins


def fill(store, plan, reading, rows):
    """So many readings; every other build by CAL-2."""

    def made(n, build):
        return reading(n, 18.1 + n % 7 / 100, build=build, instrument=f"CAL-{1 + n // A_BUILD % 2}")

    fill_by_number(store, plan, rows, made)


def costs(url, shop, plan, reading, rows):
    """Milliseconds to judge again the last ten builds of a store of that size, and to judge five of them."""
    caliper = shop.instrument("CAL-1")
    with open_store(url) as store:
        fill(store, plan, reading, rows)
        for ahead, shown in ((rows - SINCE * A_BUILD, "25.00"), (rows, "25.06")):
            moment = BEGUN + dt.timedelta(seconds=ahead - 0.5)
            made = keep_check(store, caliper, [(Decimal(25), Decimal(shown))], now=moment)
        found = rejudge(shop, store, caliper, made)
        assert (found.readings, len(found.builds)) == (SINCE // 2 * A_BUILD, SINCE // 2)
        assert found.changed
        tasks = (
            lambda: rejudge(shop, store, caliper, made),
            lambda: [check(shop, store, build) for build in found.builds],
        )
        return [1000 * best(task, 5, time.perf_counter) for task in tasks]


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_judging_again_grows_with_what_is_in_doubt(
    asked, benchmark, target, request, kind, shop, plan, reading, tmp_path
):
    """Among a million readings at most ten times what it costs to check the builds in doubt once."""
    took = {}

    def all_sizes():
        for power in (4, 5, 6):
            url = f"sqlite:///{tmp_path}/{power}.db"
            if kind == "postgresql":
                url = request.getfixturevalue("postgres")()
            took[10**power] = costs(url, shop, plan, reading, 10**power)

    benchmark.pedantic(all_sizes, rounds=1)
    told = {str(rows): f"{again:.1f}, {once:.1f} to check" for rows, (again, once) in took.items()}
    benchmark.extra_info |= told
    print(f"\n{kind}: milliseconds by readings in the store {told}")  # noqa: T201
    again, once = took[10**6]
    target(
        f"judging again among 1,000,000 readings, {kind}, against checking the builds once", again / once, 10
    )
    assert again <= 10 * once
