"""The Drift page among a million readings, beside the same page among ten thousand.

Run with `pytest --benchmark-enable tests/benchmarks/test_drift_page.py`.
"""

import json
import shutil
import time
from contextlib import closing

import pytest
from dash.development.base_component import Component

from dashboard.desk import Desk
from dashboard.pages import drift
from dashboard.pages.drift_kept import _kept, is_ready, shop_report
from qa.demo import make_demo
from qa.shop import load_shop
from qa.store.store import open_store
from tests.benchmarks.common import best, fill
from tests.serving import serve

FEW, MANY = 10_000, 1_000_000
MOST_TIMES = 2.0
MOST_POINTS = 3_000
DEPTH = {"part": "tail-block", "characteristic": "thickness", "station": "top-left"}


@pytest.fixture(scope="module")
def folders(asked, tmp_path_factory):
    """The demo shop among ten thousand readings, and among a million."""
    few = tmp_path_factory.mktemp("page") / "few"
    make_demo(few)
    many = few.with_name("many")
    shutil.copytree(few, many)
    for folder, rows in ((few, FEW), (many, MANY)):
        shop = load_shop(folder)
        with open_store(shop.store_url) as store:
            fill(shop, store, rows=rows)
    return few, many


def timed(folder):
    """Seconds of this process for the shop's page worked out anew, the same kept, and one series of it."""
    with closing(Desk(folder)) as desk:

        def anew():
            _kept.pop(desk, None)
            assert is_ready(desk, 120)
            return drift.content(desk, {})

        return {
            "anew": best(anew, 3),
            "kept": best(lambda: drift.content(desk, {})),
            "depth": best(lambda: drift.content(desk, DEPTH)),
        }


def points(component):
    """How many points the figures below a component hold, each trace counted by itself."""
    count = 0
    figure = getattr(component, "figure", None)
    if figure is not None:
        count += sum(len(trace.get("x") or ()) for trace in json.loads(figure.to_json())["data"])
    children = getattr(component, "children", None)
    children = children if isinstance(children, list | tuple) else [children]
    return count + sum(points(child) for child in children if isinstance(child, Component))


def test_the_page_costs_no_more_among_a_million(benchmark, target, folders):
    """Overview anew, overview kept, and one series: each under twice its cost among ten thousand."""
    few, many = (timed(folder) for folder in folders)
    times = {name: many[name] / few[name] for name in few}
    with closing(Desk(folders[1])) as desk:
        shop_report(desk)
        benchmark.pedantic(drift.content, args=(desk, {}), rounds=5)
    benchmark.extra_info |= {"few_s": few, "many_s": many, "times": times}
    print(f"\nseconds among {FEW}: {few}; among {MANY}: {many}; times {times}")  # noqa: T201
    for name, ratio in times.items():
        target(f"Drift page, {name}, among 1,000,000 readings against 10,000", ratio, MOST_TIMES)
    assert max(times.values()) < MOST_TIMES


def test_no_page_ships_more_than_three_thousand_points(benchmark, target, folders):
    """Every build of a series of thirteen thousand: bins, and what is out of tolerance, in one figure."""
    with closing(Desk(folders[1])) as desk:
        shop_report(desk)
        page = benchmark.pedantic(
            drift.content, args=(desk, DEPTH | {"builds": "all"}), rounds=1, warmup_rounds=0
        )
        shown = points(page)
        long = next(one for one in page._traverse() if getattr(one, "id", None) == "drift-long")
        newest = len(shop_report(desk).series[0].track.made)
    drawn = {trace["name"]: trace for trace in json.loads(long.figure.to_json())["data"] if "name" in trace}
    raw = len(drawn["mean"]["x"]) * 3 + len(drawn["outside"]["x"]) + newest
    benchmark.extra_info |= {"points_of_all_traces": shown, "points_of_the_series": raw}
    print(f"\n{raw} points draw every build, {shown} the page with bands and limits")  # noqa: T201
    assert len(drawn["outside"]["x"]) > 0
    target("points that Drift ships of a series of 13,000 builds", raw, MOST_POINTS, "points")
    assert raw <= MOST_POINTS


def seen(browser, address):
    """Seconds from following a link to the small charts standing there, the shop's report already kept."""
    page = browser.new_page()
    page.goto(f"{address}drift")
    page.wait_for_selector(".multiples .point", timeout=120_000)
    times = []
    for _ in range(3):
        page.goto(f"{address}nowhere")
        page.wait_for_selector("h1:has-text('No such page')")
        start = time.perf_counter()
        page.get_by_role("link", name="Drift", exact=True).click()
        page.wait_for_selector(".multiples .point", timeout=120_000)
        times.append(time.perf_counter() - start)
    page.close()
    return min(times)


def test_a_browser_waits_no_longer_among_a_million(benchmark, target, folders, browser):
    """From the link to the charts, in a real browser, under twice the time among ten thousand."""

    def each():
        for folder in folders:
            served = serve(folder)
            yield seen(browser, served.address)
            served.stop()

    few, many = benchmark.pedantic(lambda: tuple(each()), rounds=1)
    benchmark.extra_info |= {"few_s": few, "many_s": many, "times": many / few}
    print(f"\nlink to charts: {few:.2f} s among {FEW}, {many:.2f} s among {MANY}")  # noqa: T201
    target("Drift in a browser, among 1,000,000 readings against 10,000", many / few, MOST_TIMES)
    assert many < MOST_TIMES * few
