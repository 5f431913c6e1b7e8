"""Passes of planing: what they leave standing, at the bench and in the verdicts."""

import datetime as dt

import pytest

from drivers.typed import read_typed
from qa.bench.capture import Bench
from qa.bench.planing import last_planed, outlived, planings, still_holding
from qa.checking import check
from qa.instruments import TYPED
from qa.record import BenchEvent
from qa.store.store import open_store


@pytest.fixture
def bench(sqlite_store, plan):
    """A bench whose clock goes on by a second at every look."""
    ticks = iter(range(10_000))
    start = dt.datetime.now(dt.UTC) - dt.timedelta(hours=1)

    def clock():
        return start + dt.timedelta(seconds=next(ticks))

    return Bench(sqlite_store, plan, plan.part("tail-block"), "PG-01", TYPED, clock=clock)


def take(bench, *texts):
    for text in texts:
        bench.take(read_typed(text, "mm"))


def place(bench):
    return bench.next_place().name


def test_after_planing_reading_begins_anew(bench):
    """From the first station, wherever the pass before had got to."""
    take(bench, "18.4", "18.3")
    assert place(bench) == "thickness top-left"
    bench.planed()
    assert place(bench) == "thickness bottom-left"
    take(bench, "18.1", "18.1", "18.1", "18.1")
    assert place(bench) == "squareness"
    assert [row.value for row in bench.holding()] == [18.1] * 4


def test_a_planing_can_be_undone(bench):
    """The last act of all is taken back, and the readings count again."""
    take(bench, "18.4", "18.3")
    bench.planed()
    undone = bench.undo()
    assert undone.kind == "planed"
    assert place(bench) == "thickness top-left"
    assert len(bench.holding()) == 2
    assert bench.undo().value == 18.3


def test_a_skip_before_planing_is_asked_again(bench):
    """What was left out of one pass is due in the next."""
    bench.skip("in the vice")
    assert place(bench) == "thickness bottom-right"
    bench.planed()
    assert place(bench) == "thickness bottom-left"


def test_the_planing_of_another_part_changes_nothing(bench):
    """Events name their part."""
    take(bench, "18.4")
    other = BenchEvent("2999-01-01T00:00:00.000000Z", "planed", "PG-01", "side")
    bench.store.add_event(other)
    assert place(bench) == "thickness bottom-right"
    assert last_planed(bench.store.events(), "tail-block") == ""


def test_verdicts_do_not_count_what_planing_made_void(shop, bench):
    """A part that was fit and has been planed is not measured."""
    with open_store(shop.store_url) as store:
        bench.store = store
        take(bench, "18.0", "18.0", "18.0", "18.0", "0.02")
        assert check(shop, store, "PG-01", "tail-block")[0].fit
        bench.planed()
        (part,) = check(shop, store, "PG-01", "tail-block")[0].parts
        assert {item.verdict for item in part.characteristics} == {"not measured"}


def test_moisture_outlives_planing(plan, reading):
    """Planing takes off wood, not water."""
    part = plan.part("side")
    rows = [
        reading(1, part="side", station="waist"),
        reading(2, part="side", characteristic="moisture", station="", unit="%"),
        reading(3, part="side", characteristic="no longer planned", station="x"),
    ]
    gone = outlived(part, rows, "2025-03-01T10:00:00.000000Z")
    assert [row.characteristic for row in gone] == ["thickness", "no longer planned"]
    assert still_holding(part, rows, "2025-03-01T10:00:00.000000Z") == [rows[1]]
    assert still_holding(part, rows, "") == rows


def test_planings_are_in_the_order_of_time():
    """Whatever the order they are given in."""
    later, first = (BenchEvent(f"2025-03-0{day}", "planed", "B", "p", sequence=9 - day) for day in (2, 1))
    assert planings([later, first], "p") == [first, later]
    assert last_planed([later, first], "p") == "2025-03-02"
