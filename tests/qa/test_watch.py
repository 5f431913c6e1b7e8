"""Readings watched as they come: what is doubted, and what is left in peace."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Reading
from qa.bench.capture import Bench
from qa.bench.watch import ACCEPTED, STUCK_AFTER, Expected, waiting, watch
from qa.instruments import Instrument
from qa.record import BenchReading, standing, utc

START = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC)
EXPECTED = Expected(18.0, 0.3, (0, 150), by_line=True)


def row(value, station="a", after=0.0, sequence=0, **more):
    """One reading, so many seconds after nine."""
    return BenchReading(
        utc(START + dt.timedelta(seconds=after)), "B", "p", "thickness", station, round(value * 1e6),
        instrument="CAL", sequence=sequence, **more,
    )  # fmt: skip


def rows(*values, apart=5.0):
    """Readings at one station after another."""
    return [row(value, f"s{n}", n * apart, n + 1) for n, value in enumerate(values)]


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0.7087, "inches"),
        (457.2, "outside"),
        (180.0, "outside"),
        (1.8, "decimal"),
        (0.0, "zero"),
        (0.04, "do not come back to zero"),
        (-0.03, "do not come back to zero"),
        (-5.0, "zero pressed with the jaws open"),
        (22.0, "from the other places"),
        (18.1, ""),
        (18.9, ""),
    ],
)
def test_what_is_doubted_of_a_size(value, said):
    """Slips, closed jaws and jumps are asked about; a part still oversize is not."""
    found = watch(row(value, "x", 60), rows(18.0, 18.05, 18.1), EXPECTED)
    assert (said in found) if said else (found == "")


@pytest.mark.parametrize(("after", "doubted"), [(0.2, True), (1.5, True), (1.6, False)])
def test_the_same_value_again_at_once_is_asked_about(after, doubted):
    """Within a second and a half; two equal places read later are normal."""
    found = watch(row(18.0, "b", after), [row(18.0, "a", 0)], EXPECTED)
    assert ("pressed twice" in found) is doubted


def test_what_a_person_types_is_not_taken_for_a_bouncing_button():
    """Two equal readings from a pipe of typed lines."""
    typed = replace(EXPECTED, by_line=False)
    assert watch(row(18.0, "b", 0.1), [row(18.0, "a", 0)], typed) == ""


def test_another_value_or_instrument_is_not_doubled():
    """Only the same number from the same instrument."""
    assert watch(row(18.01, "b", 0.2), [row(18.0)], EXPECTED) == ""
    assert watch(row(18.0, "b", 0.2), [replace(row(18.0), instrument="OTHER")], EXPECTED) == ""


def test_a_display_that_does_not_move_is_asked_about():
    """From the fifth place with one value; fewer may be chance."""
    same = rows(*[18.02] * (STUCK_AFTER - 1))
    assert "frozen" in watch(row(18.02, "x", 60), same, EXPECTED)
    assert watch(row(18.02, "x", 60), same[1:], EXPECTED) == ""


def test_once_accepted_a_stuck_value_is_not_asked_about_again():
    """The run begins anew with the accepted row."""
    same = rows(*[18.02] * STUCK_AFTER)
    same.append(replace(same[-1], why=ACCEPTED, corrects=same[-1].sequence, sequence=99))
    assert watch(row(18.02, "x", 60), same, EXPECTED) == ""


def test_the_same_place_read_often_is_no_frozen_display():
    """A repeatability study at one station gives equal values."""
    assert watch(row(18.02, "a", 60), [row(18.02, "a", n, n) for n in range(9)], EXPECTED) == ""


def test_a_new_pass_after_planing_is_no_jump():
    """Two millimetres came off: only places of this pass are compared."""
    first = rows(20.5, 20.4, 20.6)
    assert watch(row(18.2, "s0", 60), first, EXPECTED) == ""
    second = [*first, row(18.2, "s0", 61, 11), row(18.1, "s1", 66, 12)]
    assert "from the other places" in watch(row(20.6, "s2", 70), second, EXPECTED)


def test_without_a_target_only_range_and_doubling_are_looked_at():
    """A gap of nothing under a blade is a good gap."""
    gap = Expected(None, None, (0, 1), by_line=True)
    assert watch(row(0.0, "b", 60), [row(0.05)], gap) == ""
    assert "outside" in watch(row(1.2, "b", 60), [row(0.05)], gap)


@given(st.floats(17.9, 18.1), st.lists(st.floats(17.9, 18.1), max_size=8), st.floats(2, 100))
def test_good_readings_taken_in_their_time_are_left_in_peace(value, before, after):
    """Unless one value stands in five places: nothing near the target is asked about."""
    earlier = rows(*(round(item, 2) for item in before))
    found = watch(row(round(value, 2), "x", after + 5 * len(before)), earlier, EXPECTED)
    assert found == "" or "frozen" in found


class Clock:
    """A clock that moves only when told."""

    now = START

    def __call__(self):
        return self.now

    def pass_by(self, seconds):
        self.now += dt.timedelta(seconds=seconds)


@pytest.fixture
def bench(sqlite_store, plan):
    """The tail block at a bench, its caliper on a line."""
    caliper = Instrument("CAL", span=(0, 150))
    return Bench(sqlite_store, plan, plan.part("tail-block"), "B-1", caliper, clock=Clock())


def sent(value, unit="mm"):
    """A reading as it came on the line."""
    return Reading(Decimal(value), unit, f"{value} {unit}".encode())


def test_a_doubled_reading_is_kept_held_and_one_word_accepts_it(bench):
    """Never dropped, never counted unasked; the place stays the next one until then."""
    bench.take(sent("18.02"))
    bench.clock.pass_by(0.3)
    twice = bench.take(sent("18.02"))
    assert twice.held
    assert "pressed twice" in twice.suspect
    assert len(standing(bench.rows())) == 1
    assert len(bench.rows()) == 2
    assert bench.next_place().station.name == "bottom-right"
    bench.accept(twice)
    assert [item.station for item in standing(bench.rows())] == ["bottom-left", "bottom-right"]


def test_a_unit_changed_by_its_button_is_read_as_what_it_is(bench):
    """Named inches are inches; a bare number in inches is asked about."""
    bench.take(sent("18.02"))
    bench.clock.pass_by(5)
    named = bench.take(sent("0.7090", "in"))
    assert not named.held
    assert named.value == pytest.approx(18.0086)
    bench.clock.pass_by(5)
    assert bench.take(sent("0.71")).held


def test_what_is_held_waits_until_it_is_answered(bench):
    """By accepting it, or by reading its place so that it counts."""
    bench.take(sent("18.02"))
    bench.clock.pass_by(0.3)
    twice = bench.take(sent("18.02"))
    assert waiting(bench.rows()) == [twice]
    bench.clock.pass_by(5)
    bench.take(sent("18.05"))
    assert waiting(bench.rows()) == []
    bench.clock.pass_by(5)
    slip = bench.take(sent("0.71"))
    assert waiting(bench.rows()) == [slip]
    bench.clock.pass_by(5)
    bench.accept(slip)
    assert waiting(bench.rows()) == []
