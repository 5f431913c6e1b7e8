"""Twenty benches at two readings a second, each with the Bench page of its part open in a browser of its own.

Run with `pytest --benchmark-enable` and this file: DRYFIT_BENCHES benches for DRYFIT_LOAD_S seconds.
"""

import multiprocessing
import os
import time
from decimal import Decimal
from pathlib import Path

from drivers.frames import Decoder, encode, load_profile
from qa.bench.capture import Bench
from qa.instruments import Instrument
from qa.shop import load_shop
from qa.store.store import open_store
from qa.store.verify import verify
from tests.benchmarks.test_bench_latency import NUMBER, WATCH
from tests.dashboard.invented_shop import empty_shop
from tests.serving import serve

BENCHES, EVERY_S = int(os.environ.get("DRYFIT_BENCHES", "20")), 0.5
LONG_S = float(os.environ.get("DRYFIT_LOAD_S", "60"))
SETTLE_S = 10
MODEL, PART = "travel-guitar", "tail-block"
VALUES = [2200 + step for step in (*range(-20, 20), *range(20, -20, -1))]
"""Hundredths of a millimetre, there and back: no two that follow one another are the same, and none jumps."""


def at_bench(folder, number, begin, told):
    """One bench: what its caliper sends, when each reading was sent and when it was durable."""
    shop, profile, taken = load_shop(folder), load_profile("text-line"), []
    plan = shop.plan(MODEL)
    with open_store(shop.store_url) as store:
        bench = Bench(store, plan, plan.part(PART), f"B-{number:02d}", Instrument("CAL-1"))
        decoder = Decoder(profile)
        due = begin + number * EVERY_S / BENCHES
        while due < begin + LONG_S:
            time.sleep(max(0, due - time.time()))
            amount = Decimal(VALUES[len(taken) % len(VALUES)]).scaleb(-2)
            sent = time.time()
            for reading in decoder.feed(encode(profile, amount)):
                bench.take(reading)
            taken.append((f"{amount} mm", 1000 * sent, 1000 * time.time()))
            due += EVERY_S
    told.put((number, taken))


def delays(sent, shown):
    """Milliseconds from each reading sent to its number on the screen; None where a newer one came first."""
    found, place = [], 0
    for text, at, _ in sent:
        later = next((n for n in range(place, len(shown)) if shown[n][0] == text and shown[n][1] >= at), None)
        if later is None or shown[later][1] - at > 1000 * EVERY_S * len(VALUES) / 4:
            found.append(None)
            continue
        found.append(shown[later][1] - at)
        place = later
    return found


def megabytes(process):
    """Resident memory of a process."""
    return int(Path(f"/proc/{process}/statm").read_text().split()[1]) * 4 // 1024


def processor_seconds(process):
    """What a process has used of the processor."""
    used = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[11:13]
    return sum(map(int, used)) / os.sysconf("SC_CLK_TCK")


def percentile(values, share):
    """The value below which that share lies."""
    return sorted(values)[int(share * (len(values) - 1))]


def test_twenty_benches_and_twenty_browsers(benchmark, target, browser, tmp_path):
    """Every reading is stored once, every screen ends at its bench's last reading, and memory stays flat."""
    folder = empty_shop(tmp_path / "shop")
    served = serve(folder)
    pages = []
    for number in range(BENCHES):
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(f"{served.address}bench?build=B-{number:02d}&part={PART}&model={MODEL}")
        page.locator("#bench-field").wait_for(timeout=30_000)
        page.evaluate(WATCH, NUMBER)
        pages.append(page)
    fork, found, memory, used = multiprocessing.get_context("fork"), {}, [], []

    def run():
        told, begin = fork.Queue(), time.time() + 2
        used.append(processor_seconds(served.process.pid))
        tasks = [fork.Process(target=at_bench, args=(folder, n, begin, told)) for n in range(BENCHES)]
        for task in tasks:
            task.start()
        while time.time() < begin + LONG_S:
            heap = pages[0].evaluate("performance.memory.usedJSHeapSize") / 1e6
            memory.append((megabytes(served.process.pid), heap))
            time.sleep(2)
        used.append(processor_seconds(served.process.pid))
        found.update(told.get(timeout=60) for _ in tasks)
        for task in tasks:
            task.join()

    benchmark.pedantic(run, rounds=1)
    pages[0].wait_for_timeout(1000 * SETTLE_S)
    shown = [page.evaluate("window.shown") for page in pages]
    last = [page.locator("#bench-number").text_content() for page in pages]
    served.stop()
    taken = [delays(found[n], shown[n]) for n in range(BENCHES)]
    seen = [delay for own in taken for delay in own if delay is not None]
    many = sum(len(own) for own in taken)
    durable = [kept - sent for own in found.values() for _, sent, kept in own]
    third = len(memory) // 3
    first, final = memory[:third], memory[-third:]
    benchmark.extra_info |= {
        "readings": many, "seen": len(seen) / many,
        "durable_p50_ms": percentile(durable, 0.5), "durable_p95_ms": percentile(durable, 0.95),
        "screen_p50_ms": percentile(seen, 0.5), "screen_p95_ms": percentile(seen, 0.95),
        "server_load": (used[1] - used[0]) / LONG_S,
        "server_mb": [percentile([mb for mb, _ in part], 0.5) for part in (first, final)],
        "page_mb": [percentile([mb for _, mb in part], 0.5) for part in (first, final)],
    }  # fmt: skip
    for what in ("server_mb", "page_mb"):
        early, late = benchmark.extra_info[what]
        target(f"twenty browsers, {what}, the last third of the time against the first", late / early, 1.2)
    target("twenty benches and twenty browsers, byte to screen, p95", percentile(seen, 0.95), 1000, "ms")
    with open_store(load_shop(folder).store_url) as store:
        assert verify(store).whole
        assert len(store.readings()) == many
    assert many > 0.9 * BENCHES * LONG_S / EVERY_S
    assert last == [found[n][-1][0] for n in range(BENCHES)]
