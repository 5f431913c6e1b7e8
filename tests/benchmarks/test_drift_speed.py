"""Drift of one series among many readings: its cost goes with the series, not with the store.

Run with `pytest --benchmark-enable tests/benchmarks/test_drift_speed.py`.
"""

import time

import pytest

from qa.demo import make_demo
from qa.drift.builds import series
from qa.drift.report import report, series_report
from qa.drift.track import of_points
from qa.shop import load_shop
from qa.store.store import open_store
from tests.benchmarks.common import best, fill

MOST = 0.150  # seconds for one series among a million readings
MOST_TIMES = 45
MOST_THREADS = 1.2  # processor time of all threads against that of the one which asked
BOUNDED = 20.0  # seconds for the overview of 240 builds among a million readings
SIZES = (10_000, 100_000, 1_000_000)
ASKED = ("brace", "width", "middle")


@pytest.fixture
def shop(tmp_path):
    """The demo's shop with its two years of readings."""
    make_demo(tmp_path)
    return load_shop(tmp_path)


def one_series(shop, store):
    """Query, judge and chart one series."""
    found = series_report(of_points(*ASKED, series(shop, store, *ASKED), shop.instruments))
    assert len(found.track.made) == 36
    return found


def test_one_series_among_a_million_readings(asked, benchmark, target, shop):
    """Under 150 ms with the query, and no dearer among a million readings than among ten thousand."""
    with open_store(shop.store_url) as store:
        alone, took = best(lambda: one_series(shop, store)), {}
        for rows in SIZES:
            fill(shop, store, rows=rows, leave=ASKED[:2])
            took[rows] = best(lambda: one_series(shop, store))
        benchmark.pedantic(one_series, args=(shop, store), rounds=9, warmup_rounds=2)
        whole = best(lambda: report(shop, store), 1)
    times = {f"times_at_{rows}": round(seconds / alone, 2) for rows, seconds in took.items()}
    benchmark.extra_info |= {"alone_ms": 1000 * alone, "whole_s": whole, **times}
    said = f"one series alone {1000 * alone:.1f} ms; {times}; the overview {whole:.1f} s"
    print("\n" + said)  # noqa: T201
    target("drift of one series among 1,000,000 readings", 1000 * took[SIZES[-1]], 150, "ms")
    target("the same, against among 10,000", took[SIZES[-1]] / took[SIZES[0]], 2)
    target("overview of drift among 1,000,000 readings", whole, BOUNDED, "s")
    assert took[SIZES[-1]] < MOST
    assert whole < BOUNDED
    assert took[SIZES[-1]] < 2 * took[SIZES[0]]


def test_all_series_of_the_demo_shop(asked, benchmark, target, shop):
    """53 series charted and causes compared for the price of 45 single ones, and no other thread at work."""
    with open_store(shop.store_url) as store:
        benchmark.pedantic(report, args=(shop, store), rounds=3, warmup_rounds=1)
        took, alone = best(lambda: report(shop, store)), best(lambda: one_series(shop, store))
        asking = best(lambda: report(shop, store), timer=time.thread_time)
    benchmark.extra_info["processor_s"] = took
    print(f"\nall series of the demo shop and their causes {took:.2f} s, {took / alone:.0f} single ones")  # noqa: T201
    target("all series of the demo shop with causes", took, 1, "s")
    target("the same, all threads against the one that asks", took / asking, MOST_THREADS)
    assert took < MOST_TIMES * alone
    assert took < MOST_THREADS * asking
