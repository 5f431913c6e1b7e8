"""When a page first shows what it is for, beside an empty Dash page with the same libraries, served alike.

Run with `pytest --benchmark-enable -s tests/benchmarks/test_first_paint.py`; it prints a table.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time

import pytest

from qa.demo import make_demo
from tests.serving import serve

ROUNDS = 11
AIM, MOST_TIMES = 1.5, 2.0
"""Beyond the aim a busy computer may be to blame, up to so much."""
EMPTY = """
import dash_mantine_components as dmc
import uvicorn
from dash import Dash, html
from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware
from dashboard.guard import SecurityHeaders, policy
from dashboard.pages import load_pages
from dashboard.serve import listen

load_pages()  # brings in the same libraries of components
app = Dash("empty", server=FastAPI(), backend="fastapi", update_title=None)
app.layout = dmc.MantineProvider(html.Main(html.H1("Empty"), id="content"))
app.server.add_middleware(GZipMiddleware, minimum_size=1000)
app.server.add_middleware(SecurityHeaders, policy=lambda: policy(app.csp_hashes()))
listener = listen(0)
print(f"http://127.0.0.1:{listener.getsockname()[1]}/", flush=True)
uvicorn.Server(uvicorn.Config(app.server, log_level="warning", access_log=False)).run(sockets=[listener])
"""
USEFUL = {
    "bench": ".bench-links a",
    "bench?build=PG-12&part=tail-block": "#bench-next .bench-place",
    "": "#builds-body table",
    "glueup": ".gates",
    "drift": "#drift-summary",
    "calipers": ".instrument",
    "plans": ".planned",
}
"""The address of each page, and what a person comes for there."""
WATCH = """(() => {
  const useful = USEFUL;
  new MutationObserver((_, observer) => {
    if (!document.querySelector(useful)) { return; }
    observer.disconnect();
    requestAnimationFrame(() => { window.paintedAt = performance.now(); });
  }).observe(document, { subtree: true, childList: true });
})()"""


@pytest.fixture
def empty():
    """The address of the empty page."""
    with subprocess.Popen([sys.executable, "-c", EMPTY], stdout=subprocess.PIPE, text=True) as running:
        yield running.stdout.readline().strip()
        running.kill()


@pytest.fixture
def demo(tmp_path):
    """The address of the demo shop."""
    make_demo(tmp_path / "demo")
    served = serve(tmp_path / "demo")
    yield served.address
    served.stop()


def painted(context, address, useful):
    """Milliseconds from the start of the navigation to the first frame with what is useful."""
    page = context.new_page()
    page.add_init_script(WATCH.replace("USEFUL", json.dumps(useful)))
    page.goto(address)
    until = time.monotonic() + 30
    while not (found := page.evaluate("window.paintedAt")):
        assert time.monotonic() < until, f"{address} never showed {useful}"
        time.sleep(0.05)
    page.close()
    return found


def in_turn(context, empty, demo):
    """For each page the medians of it and of the empty page just before, after one visit that warms up."""
    taken = {name: [] for name in USEFUL}
    for _ in range(1 + ROUNDS):
        for name, useful in USEFUL.items():
            taken[name].append((painted(context, empty, "h1"), painted(context, demo + name, useful)))
    return {
        name: [statistics.median(each) for each in zip(*pairs[1:], strict=True)]
        for name, pairs in taken.items()
    }


def test_every_page_is_painted_within_a_multiple_of_an_empty_one(benchmark, target, browser, empty, demo):
    """Medians in a real browser with a warm server, the empty page visited before each of ours."""
    context = browser.new_context()  # one, which keeps what it has loaded
    medians = benchmark.pedantic(lambda: in_turn(context, empty, demo), rounds=1)
    context.close()
    times = {name: median / floor for name, (floor, median) in medians.items()}
    benchmark.extra_info |= times
    sys.stdout.write("\npage, its first useful paint and an empty page's in ms, times\n")
    for name, (floor, median) in medians.items():
        sys.stdout.write(f"{name or 'builds':36} {median:6.0f} {floor:6.0f} {times[name]:6.2f}\n")
        target(f"{name or 'builds'}, first useful paint, against an empty page's", times[name], AIM)
    assert max(times.values()) <= MOST_TIMES
