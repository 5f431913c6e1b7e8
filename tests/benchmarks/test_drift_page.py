"""The Drift page among a million readings, beside the same page among ten thousand.

Run with `pytest --benchmark-enable tests/benchmarks/test_drift_page.py`.
"""

import datetime as dt
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from contextlib import closing, contextmanager

import pytest
from dash.development.base_component import Component

from dashboard.desk import Desk
from dashboard.pages import drift
from dashboard.pages.drift_kept import _kept, is_ready, shop_report
from qa.demo import make_demo
from qa.record import BenchReading, utc
from qa.shop import load_shop
from qa.store.store import open_store, stored_row

FEW, MANY = 10_000, 1_000_000
MOST_TIMES = 2.0
MOST_POINTS = 3_000
DEPTH = {"part": "tail-block", "characteristic": "thickness", "station": "top-left"}
SERVE = """
import sys
from pathlib import Path
from dashboard.serve import run
run(Path(sys.argv[1]), 0, ready=lambda address: print(address, flush=True))
"""


def fill(folder, rows):
    """Builds of every part, begun before the demo's, until the store holds so many readings."""
    shop = load_shop(folder)
    plan = next(iter(shop.plans.values()))[0]
    places = [
        (part.name, item.name, station.name, item.target or 0)
        for part in plan.parts.values()
        for item, station in part.to_read()
    ]
    begun = dt.datetime(2018, 1, 1, tzinfo=dt.UTC)
    with open_store(shop.store_url) as store, store.writing() as connection:
        have = store.last_sequence(connection)
        for build in range(-(-(rows - have) // len(places))):
            store.note_build(connection, f"X-{build:06d}", plan)
        for start in range(0, rows - have, 50_000):
            made = (
                BenchReading(
                    utc(begun + dt.timedelta(seconds=n)),
                    f"X-{n // len(places):06d}",
                    *places[n % len(places)][:3],
                    millionths=places[n % len(places)][3] + (n * 7919) % 520_000 - 260_000,
                    instrument="CAL-1",
                )
                for n in range(start, min(start + 50_000, rows - have))
            )  # fmt: skip
            store.append_rows(connection, [stored_row(row, plan.digest) for row in made])


@pytest.fixture(scope="module")
def folders(tmp_path_factory, pytestconfig):
    """The demo shop among ten thousand readings, and among a million."""
    if not pytestconfig.getoption("benchmark_enable"):  # here, before they are made
        pytest.skip("a million readings: run with --benchmark-enable")
    few = tmp_path_factory.mktemp("page") / "few"
    make_demo(few)
    many = few.with_name("many")
    shutil.copytree(few, many)
    for folder, rows in ((few, FEW), (many, MANY)):
        fill(folder, rows)
    return few, many


def best(task, repeat=3):
    """The shortest of several timings in seconds of this process, so that a busy machine does not count."""
    times = []
    for _ in range(repeat):
        start = time.process_time()
        task()
        times.append(time.process_time() - start)
    return min(times)


def timed(folder):
    """Seconds for the shop's page worked out anew, the same kept, and one series of it."""
    with closing(Desk(folder)) as desk:

        def anew():
            _kept.pop(desk, None)
            assert is_ready(desk, 120)
            return drift.content(desk, {})

        took = {"anew": best(anew), "kept": best(lambda: drift.content(desk, {}), 5)}
        took["depth"] = best(lambda: drift.content(desk, DEPTH), 9)
        return took


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


@contextmanager
def served(folder):
    """The dashboard of a folder in a process of its own; gives its address."""
    process = subprocess.Popen([sys.executable, "-c", SERVE, str(folder)], stdout=subprocess.PIPE, text=True)
    try:
        yield process.stdout.readline().strip()
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=60)


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


def test_a_browser_waits_no_longer_among_a_million(benchmark, target, folders):
    """From the link to the charts, in a real browser, under twice the time among ten thousand."""
    play = pytest.importorskip("playwright.sync_api")
    took = []
    with play.sync_playwright() as started:
        browser = started.chromium.launch(
            executable_path=os.environ.get("DRYFIT_CHROMIUM", "/usr/bin/chromium"),
            args=["--no-sandbox", "--disable-gpu"],
        )
        for folder in folders:
            with served(folder) as address:
                took.append(seen(browser, address))
        browser.close()
    benchmark.pedantic(lambda: None, rounds=1)
    benchmark.extra_info |= {"few_s": took[0], "many_s": took[1], "times": took[1] / took[0]}
    print(f"\nlink to charts: {took[0]:.2f} s among {FEW}, {took[1]:.2f} s among {MANY}")  # noqa: T201
    target("Drift in a browser, among 1,000,000 readings against 10,000", took[1] / took[0], MOST_TIMES)
    assert took[1] < MOST_TIMES * took[0]
