"""Twenty benches at two readings a second each over one store, with three screens that look on.

Run with `pytest --benchmark-enable` and this file; DRYFIT_LOAD_S sets for how many seconds.
"""

import multiprocessing
import os
import time
from decimal import Decimal
from pathlib import Path

import pytest

from drivers.frames import Decoder, encode, load_profile
from qa.bench.capture import Bench
from qa.checking import check
from qa.instruments import Instrument
from qa.store.store import open_store
from qa.store.verify import verify
from qa.store.watch import StoreWatch

BENCHES, SCREENS, EVERY_S = 20, 3, 0.5
LONG_S = float(os.environ.get("DRYFIT_LOAD_S", "60"))


def at_bench(url, plan, number, until, told):
    """One bench: bytes of its caliper to a durable row, each timed."""
    profile, taken, memory = load_profile("text-line"), [], []
    with open_store(url) as store:
        bench = Bench(store, plan, plan.part("tail-block"), f"B-{number:02d}", Instrument(f"C-{number}"))
        decoder = Decoder(profile)
        due = time.time() + number * EVERY_S / BENCHES
        while due < until:
            time.sleep(max(0, due - time.time()))
            sent = encode(profile, Decimal(1800 + len(taken) % 7).scaleb(-2))
            start = time.perf_counter()
            for reading in decoder.feed(sent):
                bench.take(reading)
            taken.append(time.perf_counter() - start)
            memory.append(int(Path("/proc/self/statm").read_text().split()[1]) * 4 // 1024)
            due += EVERY_S
    told.put(("bench", taken, (memory[5], memory[-1])))


def at_screen(url, shop, until, told):
    """One screen: it looks ten times a second, and judges a build when something was stored."""
    shown, mark = [], None
    with open_store(url) as store:
        watch = StoreWatch(store)
        while time.time() < until:
            now = watch.mark()
            if now != mark:
                mark, start = now, time.perf_counter()
                check(shop, store, next(iter(store.builds()), None)) if store.builds() else None
                shown.append(time.perf_counter() - start)
            time.sleep(0.1)
        watch.close()
    told.put(("screen", shown, (0, 0)))


def percentile(values, share):
    """The value below which that share lies, in milliseconds."""
    return 1000 * sorted(values)[int(share * (len(values) - 1))]


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_twenty_benches(asked, benchmark, target, request, kind, shop, plan, tmp_path):
    """Every reading is there once, and 95 of 100 are durable within half a second of their bytes."""
    url = f"sqlite:///{tmp_path}/s.db" if kind == "sqlite" else request.getfixturevalue("postgres")()
    open_store(url).close()
    fork, found = multiprocessing.get_context("fork"), []

    def run():
        told, until = fork.Queue(), time.time() + LONG_S
        tasks = [fork.Process(target=at_bench, args=(url, plan, n, until, told)) for n in range(BENCHES)]
        tasks += [fork.Process(target=at_screen, args=(url, shop, until, told)) for _ in range(SCREENS)]
        for task in tasks:
            task.start()
        found.extend(told.get(timeout=LONG_S + 60) for _ in tasks)
        for task in tasks:
            task.join()

    benchmark.pedantic(run, rounds=1)
    taken = [second for what, times, _ in found if what == "bench" for second in times]
    screens = [second for what, times, _ in found if what == "screen" for second in times]
    memory = [pair for what, _, pair in found if what == "bench"]
    with open_store(url) as store:
        assert verify(store).whole
        assert len(store.readings()) == len(taken)
    benchmark.extra_info |= {
        "readings": len(taken), "p50_ms": percentile(taken, 0.5), "p95_ms": percentile(taken, 0.95),
        "worst_ms": percentile(taken, 1), "screen_p95_ms": percentile(screens, 0.95),
        "memory_first_mb": max(first for first, _ in memory),
        "memory_last_mb": max(last for _, last in memory),
    }  # fmt: skip
    target(f"twenty benches, byte to durable, p95, {kind}", percentile(taken, 0.95), 500, "ms")
    grown = benchmark.extra_info["memory_last_mb"] / benchmark.extra_info["memory_first_mb"]
    target(f"the same, memory at the end against the beginning, {kind}", grown, 1.2)
    assert len(taken) > 0.9 * BENCHES * LONG_S / EVERY_S
    assert percentile(taken, 0.95) < 500
