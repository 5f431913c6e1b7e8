"""From a byte on the instrument's line to the number on the screen, beside the least it could cost.

The least is a bare WebSocket round trip in the same browser and one forced commit of bare SQLite, both taken
in the same run.
"""

from __future__ import annotations

import asyncio
import importlib.util
import sqlite3
import statistics
import sys
import threading
import time
from pathlib import Path

import pytest

from drivers.frames import load_profile
from drivers.simulated import SimulatedCaliper

PRESSES = 40
TESTS = Path(__file__).parents[1]
WATCH = """() => {
  window.shown = [];
  new MutationObserver(() => {
    const node = document.getElementById("bench-number");
    const text = node ? node.textContent : "";
    const last = window.shown[window.shown.length - 1];
    if (!text || (last && last[0] === text)) { return; }
    window.shown.push([text, performance.timeOrigin + performance.now()]);
  }).observe(document.body, { subtree: true, childList: true, characterData: true });
}"""
ECHO = """([address, times]) => new Promise((done) => {
  const socket = new WebSocket(address), taken = [];
  let begun;
  const send = () => { begun = performance.now(); socket.send("22.05"); };
  socket.onopen = send;
  socket.onmessage = () => {
    taken.push(performance.now() - begun);
    if (taken.length < times) { send(); } else { socket.close(); done(taken); }
  };
})"""


def module(path):
    """A module of another room of the tests."""
    name = f"latency_{path.stem}"
    spec = importlib.util.spec_from_file_location(name, path)
    found = sys.modules[name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found


@pytest.fixture
def tab():
    """A page of the browser that is installed; without the browser's plugin this is skipped."""
    playwright = pytest.importorskip("playwright.sync_api")
    chromium = module(TESTS / "browser" / "conftest.py").CHROMIUM
    if not Path(chromium).exists():
        pytest.skip("no browser is installed")
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        yield browser.new_page()
        browser.close()


@pytest.fixture
def echo():
    """Where a bare server is: it gives an empty page, and its WebSocket sends back what it gets."""
    from websockets.asyncio.server import serve

    loop, ready, address = asyncio.new_event_loop(), threading.Event(), []

    async def answer(socket):
        async for message in socket:
            await socket.send(message)

    def page(connection, request):
        return connection.respond(200, "") if request.path == "/page" else None

    async def run():
        async with serve(answer, "127.0.0.1", 0, process_request=page) as server:
            address.append(f"127.0.0.1:{server.sockets[0].getsockname()[1]}")
            ready.set()
            await asyncio.Future()

    task = loop.create_task(run())
    thread = threading.Thread(target=lambda: _quietly(loop, task))
    thread.start()
    ready.wait(5)
    yield address[0]
    loop.call_soon_threadsafe(task.cancel)
    thread.join(5)


def _quietly(loop, task):
    """Run until it is cancelled."""
    try:
        loop.run_until_complete(task)
    except asyncio.CancelledError:
        loop.close()


def bare_commits(path):
    """The time of each of some forced commits of one small row, in milliseconds."""
    connection = sqlite3.connect(path, isolation_level=None)
    for setting in ("journal_mode=WAL", "synchronous=FULL"):
        connection.execute(f"PRAGMA {setting}")
    connection.execute("CREATE TABLE readings (value INTEGER)")
    taken = []
    for value in range(PRESSES):
        begun = time.perf_counter()
        connection.execute("INSERT INTO readings VALUES (?)", (value,))
        taken.append(1000 * (time.perf_counter() - begun))
    connection.close()
    return taken


def presses(page, caliper):
    """Milliseconds from the press to the number on the page, for each of some presses."""
    page.evaluate(WATCH)
    taken = []
    for number in range(PRESSES):
        value = f"{21.90 + number / 500:.2f}" if number % 2 else f"{22.20 - number / 500:.2f}"
        before = page.evaluate("window.shown.length")
        begun = 1000 * time.time()
        caliper.press(value)
        while page.evaluate("window.shown.length") == before:
            assert 1000 * time.time() - begun < 5000, f"{value} never appeared"
            time.sleep(0.02)
        text, at = page.evaluate("window.shown[window.shown.length - 1]")
        assert text == f"{value} mm"
        taken.append(at - begun)
        time.sleep(0.05)
    return taken


@pytest.fixture
def asked(request):
    """Neither browser nor server is started where timings are not asked for."""
    if not request.config.getoption("benchmark_enable"):
        pytest.skip("a timing: run with --benchmark-enable")


def test_a_byte_is_on_the_screen_within_a_bounded_multiple_of_the_least(
    asked, benchmark, tab, echo, tmp_path
):
    """Medians of 40 presses over a pty, a store forced to the disk, and a real browser."""
    shops = module(TESTS / "dashboard" / "invented_shop.py")
    serve = module(TESTS / "browser" / "conftest.py").serve
    folder = shops.full_shop(tmp_path / "shop")
    text = (folder / "shop.toml").read_text()
    named = "[instruments.CAL-1]"
    (folder / "shop.toml").write_text(text.replace(named, f'{named}\nurl = "line"'))
    tab.goto(f"http://{echo}/page")
    floor = statistics.median(tab.evaluate(ECHO, [f"ws://{echo}/", PRESSES]))
    floor += statistics.median(bare_commits(tmp_path / "bare.db"))
    with SimulatedCaliper(load_profile("text-line"), link=folder / "line", seed=1) as caliper:
        served = serve(folder)
        tab.goto(f"{served.address}bench?build=TG-9&part=tail-block&model=travel-guitar")
        tab.get_by_text("CAL-1 on the line").wait_for(timeout=8000)
        tab.wait_for_timeout(1500)
        taken = benchmark.pedantic(lambda: presses(tab, caliper), rounds=1)
        served.stop()
    median, most = statistics.median(taken), max(taken)
    benchmark.extra_info |= {
        "floor_ms": floor, "median_ms": median, "longest_ms": most, "times": median / floor,
    }  # fmt: skip
    assert median / floor <= 120
