"""Killed at any moment, power cut at any moment: nothing acknowledged is lost, nothing is half there."""

import datetime as dt
import shutil
import signal
import time
from collections import Counter
from decimal import Decimal
from pathlib import Path

import pytest

from drivers.reading import Reading
from qa.bench.capture import Bench
from qa.errors import StoreError
from qa.instruments import Instrument
from qa.logs.loading import load
from qa.store.spool import SpooledStore
from qa.store.store import open_store
from qa.store.verify import verify

ROWS = 400
NUMBERED_FROM = {"thickness": 17_900_000, "squareness": 50_000}
"""In nanometres: what a reading numbered 0 is at each characteristic, so that none of them is doubted."""


def numbered(bench, own):
    """A reading for the next place that holds its own number."""
    value = Decimal(NUMBERED_FROM[bench.next_place().characteristic.name] + own).scaleb(-6)
    return Reading(value, "mm", str(value))


def capturing(url, plan, most=100_000):
    """A task: read the tail block over and over, telling each reading's own number once it is stored."""

    def task(tell):
        with open_store(url) as store:
            bench = Bench(store, plan, plan.part("tail-block"), "PG-01", Instrument("CAL-1"))
            number = len(store.readings())
            for own in range(number, number + most):
                bench.take(numbered(bench, own))
                tell(own)

    return task


def amounts(store):
    """The number each stored reading was given."""
    return [row.millionths - NUMBERED_FROM[row.characteristic] for row in store.readings()]


def test_capture_killed(store_url, plan, child, times, chance, tell):
    """Every acknowledged reading is there, in order and chained, at most one more; the next place follows."""
    open_store(store_url).close()
    acknowledged = unacknowledged = 0
    kills = times(13, 100)
    for _ in range(kills):
        before = _count(store_url)
        worker = child(capturing(store_url, plan))
        worker.first_line()
        time.sleep(chance.uniform(0, 0.03))
        told = [int(line) for line in worker.kill()]
        with open_store(store_url) as store:
            found = amounts(store)
            assert verify(store).whole
            places = Counter((row.characteristic, row.station) for row in store.readings())
            due = Bench(store, plan, plan.part("tail-block"), "PG-01", Instrument("CAL-1")).next_place()
        assert found == list(range(len(found)))
        assert told == list(range(before, before + len(told)))
        assert 0 <= len(found) - before - len(told) <= 1
        assert max(places.values()) - min(places.values()) <= 1 or len(places) < 5
        assert due.read_before == min(places[c.name, s.name] for c, s in plan.part("tail-block").to_read())
        acknowledged += len(told)
        unacknowledged += len(found) - before - len(told)
    tell(f"{kills} kills, {acknowledged} readings acknowledged, 0 lost, {unacknowledged} more stored")


def _count(url):
    with open_store(url) as store:
        return len(store.readings())


def test_load_killed(postgres, shop, log, good_row, child, times, chance, tell, tmp_path):
    """A log is loaded whole or not at all; loaded again it is there once."""
    path = log(*(good_row(n) for n in range(ROWS)))
    outcomes = Counter()
    kills = times(12, 100)
    for number in range(kills):
        url = f"sqlite:///{tmp_path}/{number}.db" if number % 2 else postgres()

        def task(say, url=url):
            with open_store(url) as store:
                say("open")
                load([path], shop, store)
                say("loaded")

        worker = child(task)
        worker.first_line()
        time.sleep(chance.uniform(0, 0.12))
        done = "loaded" in worker.kill()
        with open_store(url) as store:
            found = len(store.readings())
            assert found in ({ROWS} if done else {0, ROWS})
            assert verify(store).whole
            again = load([path], shop, store)
            assert (again.loaded, again.duplicates) == (ROWS - found, found)
            assert verify(store).rows == ROWS
        outcomes[found] += 1
    tell(f"{kills} kills: nothing there {outcomes[0]} times, all {ROWS} rows {outcomes[ROWS]} times")


def test_power_cut(tmp_path, plan, child, times, chance, tell):
    """The files as they stood at a moment hold all that was acknowledged, with a half-written block or not.

    The writer is stopped, not killed, while its files are copied, so that the copy is of one moment.
    """
    worker = child(capturing(f"sqlite:///{tmp_path}/store.db", plan))
    worker.first_line()
    cuts, torn = times(10, 100), 0
    try:
        for number in range(cuts):
            time.sleep(chance.uniform(0, 0.02))
            worker.stop()
            told = len(worker.told())
            copy = tmp_path / f"cut{number}.db"
            for end in ("", "-wal"):
                shutil.copy(f"{tmp_path}/store.db{end}", f"{copy}{end}")
            worker.send(signal.SIGCONT)
            if number % 2:
                torn += 1
                with Path(f"{copy}-wal").open("ab") as log:
                    log.write(chance.randbytes(chance.randrange(1, 10_000)))
            with open_store(f"sqlite:///{copy}") as store:
                found = amounts(store)
                assert found == list(range(len(found)))
                assert told <= len(found) <= told + 1
                assert verify(store).whole
                assert store.append(store.readings()[0], plan) == 1
    finally:
        worker.kill()
    tell(f"{cuts} cuts, {torn} with a half-written block: each copy whole, 0 acknowledged readings lost")


class JumpingClock:
    """A clock that is set to and fro at random."""

    def __init__(self, chance):
        self.chance = chance
        self.at = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC)

    def __call__(self):
        self.at += dt.timedelta(seconds=self.chance.choice([1, 1, 1, 3600, -3600, -86_400, -1]))
        return self.at


def test_clock_jumps(sqlite_store, plan, times, chance, tell):
    """Whatever the clock does, the reading taken last at a place is the one that counts."""
    from qa.judge import latest_by_station
    from qa.record import standing

    clock = JumpingClock(chance)
    bench = Bench(sqlite_store, plan, plan.part("tail-block"), "PG-01", Instrument("CAL-1"), clock=clock)
    last, readings = {}, times(150, 1500)
    for number in range(readings):
        place = bench.next_place()
        reading = numbered(bench, number)
        bench.take(reading)
        last[place.characteristic.name, place.station.name] = float(reading.value)
    assert {at: row.value for at, row in latest_by_station(standing(bench.rows())).items()} == last
    pushed = sum(bool(row.note) for row in bench.rows())
    assert pushed > readings / 4
    tell(f"{readings} readings, {pushed} while the clock was behind, each counts in its order")


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_locked(kind, request, tmp_path, plan, reading, child, times, tell, monkeypatch):
    """A store held by another program: waited for, then told in one line; afterwards the bench goes on."""
    url = request.getfixturevalue("postgres")() if kind == "postgresql" else f"sqlite:///{tmp_path}/store.db"
    wait = times(400, 30_000)
    monkeypatch.setattr("qa.store.engine.WAIT_FOR_LOCK_MS", wait)
    with open_store(url) as store:
        store.append(reading(0), plan)
    for held, outcome in ((wait / 2000, "stored"), (wait / 1000 + 60, "refused")):

        def hold(say, held=held):
            with open_store(url) as store, store.writing():
                say("held")
                time.sleep(held)

        holder = child(hold)
        holder.first_line()
        start = time.monotonic()
        with open_store(url) as store:
            if outcome == "stored":
                store.append(reading(1), plan)
            else:
                with pytest.raises(StoreError, match="in use by another program"):
                    store.append(reading(2), plan)
            waited = time.monotonic() - start
            assert waited < wait / 1000 + 30
            holder.kill()
            store.append(reading(3), plan)
            assert verify(store).whole
            assert verify(store).rows == 3
    tell(
        f"held for {wait / 2000:g} s: stored; longer: refused after {waited:.1f} s in one line, then went on"
    )


def test_server_stopped(server, tmp_path, plan, times, tell, monkeypatch):
    """The server is gone for a while: every reading is taken meanwhile, and is there once, in order."""
    monkeypatch.setattr("qa.store.spool.TRY_AGAIN_S", times(0.1, 2))
    away, worst, own = times(0.5, 60), 0.0, 0
    url = server.fresh()
    with SpooledStore(url, tmp_path / "spool.db") as store:
        bench = Bench(store, plan, plan.part("tail-block"), "PG-01", Instrument("CAL-1"))
        for state, lasts in (("there", 0.3), ("gone", away), ("back", times(0.3, 5))):
            {"there": lambda: None, "gone": server.stop, "back": server.start}[state]()
            until = time.monotonic() + lasts
            while time.monotonic() < until or (state == "back" and store.waiting()):
                start = time.monotonic()
                bench.take(numbered(bench, own))
                worst, own = max(worst, time.monotonic() - start), own + 1
                time.sleep(0.05)
            if state == "gone":
                kept = store.waiting()
                assert kept > 0
    with open_store(url) as store:
        assert amounts(store) == list(range(own))
        assert verify(store).whole
    tell(f"gone for {away} s: {own} readings, {kept} kept here meanwhile, 0 lost, worst wait {worst:.2f} s")
