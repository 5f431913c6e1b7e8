"""A burst from a caliper's line to the store: every record once, in order, each durable before the next."""

import threading
import time

from drivers.frames import load_profile
from drivers.reading import Reading
from drivers.serial_line import SerialLine
from drivers.simulated import SimulatedCaliper
from qa.bench.capture import Bench
from qa.instruments import Instrument
from qa.store.store import open_store

PATIENCE = 120.0


def take_burst(records, tmp_path, plan):
    """Send so many records as fast as the line takes them and store each; the values sent and kept."""
    profile = load_profile("text-line")
    sent, kept = [], []
    with (
        SimulatedCaliper(profile, link=tmp_path / "line") as caliper,
        open_store(f"sqlite:///{tmp_path / 'store.db'}") as store,
    ):
        bench = Bench(store, plan, plan.part("tail-block"), "PG-01", Instrument("CAL-1"))
        line = SerialLine(caliper.url, profile)
        line.open()
        stop = threading.Event()

        def press():
            for number in range(records):
                value = f"{17 + number % 200 / 100:.2f}"
                sent.append(round(float(caliper.press(value)) * 1e6))

        presser = threading.Thread(target=press)
        presser.start()
        end = time.monotonic() + PATIENCE
        for event in line.events(stop, timeout=2.0):
            if isinstance(event, Reading):
                kept.append(bench.take(event))
            if len(kept) == records or time.monotonic() > end:
                stop.set()
        presser.join()
        line.close()
        rows = store.readings()
    assert [row.sequence for row in rows] == [row.sequence for row in kept]
    return sent, [row.millionths for row in rows]


def test_a_burst_is_stored_once_and_in_order(tmp_path, plan):
    """Three hundred records: none lost, none doubled, none out of order."""
    sent, kept = take_burst(300, tmp_path, plan)
    assert kept == sent
    assert len(kept) == 300


def test_how_fast_a_burst_is_stored(asked, benchmark, target, tmp_path, plan):
    """At least ten readings a second, more than any hand can press, with two thousand behind them."""
    start = time.perf_counter()
    sent, kept = benchmark.pedantic(take_burst, args=(2000, tmp_path, plan), rounds=1)
    rate = len(kept) / (time.perf_counter() - start)
    benchmark.extra_info |= {"readings_per_second": rate}
    target("burst from a line, stored one by one", rate, 10, "readings/s", least=True)
    assert kept == sent
    assert rate > 10
