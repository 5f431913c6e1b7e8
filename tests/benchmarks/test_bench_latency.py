"""From a byte on the instrument's line to the number on the screen, beside the least it could cost.

The least is `bare_bench.py`: the same bytes over a line of its own, one forced commit of bare SQLite, a push
over a bare WebSocket into the text of one element. Both are open in one browser and pressed in turn.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

from drivers.frames import load_profile
from drivers.simulated import SimulatedCaliper
from tests.dashboard.invented_shop import full_shop
from tests.serving import serve

PRESSES = 40
FIRST = 3
BENCH = "bench?build=TG-9&part=tail-block&model=travel-guitar"
NUMBER, BARE_NUMBER = "#bench-fresh .bench-number, #bench-number", "#number"
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
    """The bare page, open, and the caliper it hears."""
    with SimulatedCaliper(load_profile("text-line"), link=folder / "bare", seed=1) as caliper:
        words = [sys.executable, str(Path(__file__).with_name("bare_bench.py")), caliper.url, str(folder)]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as running:
            page = browser.new_page()
            page.goto(f"http://127.0.0.1:{running.stdout.readline().strip()}/")
            page.evaluate(WATCH, BARE_NUMBER)
            yield page, caliper
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
    """Milliseconds from the press to the number on the page."""
    before = page.evaluate("window.shown.length")
    begun = 1000 * time.time()
    caliper.press(value)
    while page.evaluate("window.shown.length") == before:
        assert 1000 * time.time() - begun < 5000, f"{value} never appeared"
        time.sleep(0.02)
    text, at = page.evaluate("window.shown[window.shown.length - 1]")
    assert f"{value} mm" in text.lower()
    time.sleep(0.05)
    return at - begun


def in_turn(least, bench):
    """What each press took, the bare page's and ours."""
    taken = []
    for number in range(PRESSES):
        value = f"{21.90 + number / 500:.2f}" if number % 2 else f"{22.20 - number / 500:.2f}"
        taken.append((press(*least, value), press(*bench, value)))
    return zip(*taken, strict=True)


def test_a_byte_is_on_the_screen_within_a_bounded_multiple_of_the_least(benchmark, target, browser, tmp_path):
    """Medians of 40 presses over a pty, a store forced to the disk, and a real browser."""
    with bare(browser, tmp_path) as least, ours(browser, tmp_path / "shop") as bench:
        floor, taken = benchmark.pedantic(lambda: in_turn(least, bench), rounds=1)
    floor, median = statistics.median(floor), statistics.median(taken)
    benchmark.extra_info |= {
        "floor_ms": floor, "median_ms": median, "times": median / floor,
        "first_ms": max(taken[:FIRST]), "longest_ms": max(taken),
    }  # fmt: skip
    target("from a press to the number on the Bench page, against the least", median / floor, 1.5)
    assert median / floor <= 5
    assert max(taken[:FIRST]) < 150
