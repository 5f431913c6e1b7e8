"""A clock that is set back makes no earlier reading the later one."""

import datetime as dt
from decimal import Decimal

import pytest

from drivers.reading import Reading
from qa.bench.capture import Bench
from qa.bench.clock import onward
from qa.instruments import TYPED
from qa.judge import latest_by_station
from qa.record import BenchEvent, standing

START = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC)


class JumpingClock:
    """A clock that goes on by a second at every look and may be set."""

    def __init__(self):
        self.at = START

    def __call__(self):
        self.at += dt.timedelta(seconds=1)
        return self.at

    def back(self, **by):
        """Set the clock back."""
        self.at -= dt.timedelta(**by)


@pytest.fixture
def bench(sqlite_store, plan):
    """The side of PG-01 at a bench whose clock jumps."""
    return Bench(sqlite_store, plan, plan.part("side"), "PG-01", TYPED, clock=JumpingClock())


def read(bench, *values):
    """Take readings in millimetres, and per cent where moisture is due."""
    for value in values:
        unit = bench.next_place().characteristic.unit
        bench.take(Reading(Decimal(str(value)), unit, f"{value} {unit}"))


def counting(bench):
    """What counts at each place."""
    return {place[0]: row.value for place, row in latest_by_station(standing(bench.rows())).items()}


@pytest.mark.parametrize("by", [{"hours": 1}, {"days": 4000}, {"seconds": 1}, {"microseconds": 1}])
def test_the_reading_taken_last_counts(bench, by):
    """Whatever the clock was set back by, and each time is later than the one before."""
    read(bench, 1.9, 8)
    bench.clock.back(**by)
    read(bench, 1.95, 9)
    assert counting(bench) == {"thickness": 1.95, "moisture": 9}
    times = [row.taken_at for row in bench.rows()]
    assert times == sorted(set(times))
    assert not any(row.held for row in bench.rows())


def test_what_the_clock_said_is_kept(bench):
    """In the note of the row, and only where the clock was behind."""
    read(bench, 1.9)
    bench.clock.back(hours=1)
    read(bench, 8)
    first, second = bench.rows()
    assert first.note == ""
    assert second.note == "the clock said 2025-03-01T08:00:02.000000Z, not after the row before it"
    assert second.taken_at == "2025-03-01T09:00:01.000001Z"


def test_a_pass_of_planing_after_the_clock_was_set_back(bench):
    """The readings before it no longer count, those after it do."""
    read(bench, 1.9, 8)
    bench.clock.back(hours=2)
    bench.planed()
    read(bench, 1.85)
    assert [row.value for row in bench.holding() if row.characteristic == "thickness"] == [1.85]


def test_undo_takes_back_what_was_done_last(bench):
    """A skip after the clock was set back is undone before the reading before it."""
    read(bench, 1.9)
    bench.clock.back(hours=1)
    bench.skip("wet")
    assert isinstance(bench.undo(), BenchEvent)
    assert bench.undo().value == 1.9


def test_a_clock_that_goes_on_is_believed():
    """Nothing is noted, whatever lies before."""
    event = BenchEvent("2025-03-01T09:00:00.000000Z", "skip")
    assert onward(START, [], [event]) == ("2025-03-01T09:00:00.000000Z", "")
    assert onward(START, [], []) == ("2025-03-01T09:00:00.000000Z", "")
