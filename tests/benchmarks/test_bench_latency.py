"""From a byte on the instrument's line to the number on the screen, beside the least it could cost.

The least is a round trip over a bare WebSocket in the same browser, and a forced commit of such a row by bare
SQLite (`bare_bench.py`). All three are done in turn, as seldom as a person presses, so that none is warmer.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path

from drivers.frames import encode, load_profile
from drivers.simulated import SimulatedCaliper
from tests.benchmarks.bare_bench import COMMIT
from tests.dashboard.invented_shop import full_shop
from tests.serving import serve

ROOT = Path(__file__).parents[2]
PRESSES = 40
FIRST = 3
REST_S = 0.1
BENCH = "bench?build=TG-9&part=tail-block&model=travel-guitar"
NUMBER = "#bench-fresh:not([hidden]) .bench-number, #bench-number"
WATCH = """(where) => {
  window.shown = [];
  new MutationObserver(() => {
    const node = document.querySelector(where);
    const text = node ? node.textContent : "";
    const last = window.shown[window.shown.length - 1];
    if (!text || (last && last[0] === text)) { return; }
    window.shown.push([text, performance.timeOrigin + performance.now()]);
  }).observe(document.body, { subtree: true, childList: true, characterData: true });
}"""


@contextmanager
def bare(browser, folder):
    """The bare page, open."""
    words = [sys.executable, "-m", "tests.benchmarks.bare_bench", str(folder)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=ROOT) as running:
        page = browser.new_page()
        page.goto(f"http://127.0.0.1:{running.stdout.readline().strip()}/")
        page.wait_for_function("socket.readyState === WebSocket.OPEN")
        yield page
        running.kill()


@contextmanager
def ours(browser, folder):
    """The Bench page of a part not begun, open, and the caliper it hears."""
    full_shop(folder)
    named = "[instruments.CAL-1]"
    text = (folder / "shop.toml").read_text()
    (folder / "shop.toml").write_text(text.replace(named, f'{named}\nurl = "line"'))
    with SimulatedCaliper(load_profile("text-line"), link=folder / "line", seed=1) as caliper:
        served = serve(folder)
        page = browser.new_page()
        page.goto(served.address + BENCH)
        page.get_by_text("CAL-1 on the line").wait_for(timeout=8000)
        page.wait_for_timeout(1500)
        page.evaluate(WATCH, NUMBER)
        yield page, caliper
        served.stop()


def press(page, caliper, value):
    """Milliseconds from the bytes of a press to the number on the page."""
    time.sleep(REST_S)
    before, record = page.evaluate("window.shown.length"), encode(caliper.profile, Decimal(value))
    begun = 1000 * time.time()
    caliper.say(record)
    while page.evaluate("window.shown.length") == before:
        assert 1000 * time.time() - begun < 5000, f"{value} never appeared"
        time.sleep(0.02)
    text, at = page.evaluate("window.shown[window.shown.length - 1]")
    assert f"{value} mm" in text.lower()
    return at - begun


def ask(page, text):
    """What the bare page is answered, and the milliseconds of the round trip."""
    time.sleep(REST_S)
    return page.evaluate("ask", text)


def in_turn(bare_page, bench):
    """For each press a round trip, a commit and what the press took, milliseconds."""
    taken = []
    for number in range(PRESSES):
        value = f"{21.90 + number / 500:.2f}" if number % 2 else f"{22.20 - number / 500:.2f}"
        (_, trip), (commit, _) = ask(bare_page, value), ask(bare_page, COMMIT)
        taken.append((trip, float(commit), press(*bench, value)))
    return zip(*taken, strict=True)


def test_a_byte_is_on_the_screen_within_a_bounded_multiple_of_the_least(benchmark, target, browser, tmp_path):
    """Medians of 40 presses over a pty, a store forced to the disk, and a real browser."""
    with bare(browser, tmp_path) as bare_page, ours(browser, tmp_path / "shop") as bench:
        trips, commits, taken = benchmark.pedantic(lambda: in_turn(bare_page, bench), rounds=1)
    trip, commit, median = (statistics.median(each) for each in (trips, commits, taken))
    floor = trip + commit
    benchmark.extra_info |= {
        "trip_ms": trip, "commit_ms": commit, "median_ms": median, "times": median / floor,
        "first_ms": max(taken[:FIRST]), "longest_ms": max(taken),
    }  # fmt: skip
    sys.stdout.write(f"\nround trip {trip:.2f} ms, commit {commit:.2f} ms, press to number {median:.2f} ms\n")
    target("press to number on the Bench page, against round trip and commit", median / floor, 1.5)
    assert median / floor <= 5
    assert max(taken[:FIRST]) < 150
