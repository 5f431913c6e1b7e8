"""Readings watched as they come: what is doubted, and what is left in peace."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Reading
from qa.bench.capture import Bench
from qa.bench.expected import Expected, expected
from qa.bench.watch import ACCEPTED, STUCK_AFTER, beyond_range, waiting, watch
from qa.characteristics import kinds
from qa.instruments import Instrument
from qa.plans.plan import read_plan
from qa.record import BenchReading, standing, utc

START = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC)
EXPECTED = Expected(18.0, lower=17.85, upper=18.15, sized=True)
CALIPER = Instrument("CAL", span=(0, 150))


def row(value, station="a", after=0.0, sequence=0, **more):
    """One reading, so many seconds after nine."""
    return BenchReading(
        utc(START + dt.timedelta(seconds=after)), "B", "p", "thickness", station, round(value * 1e6),
        instrument="CAL", sequence=sequence, **more,
    )  # fmt: skip


def rows(*values, apart=5.0):
    """Readings at one station after another."""
    return [row(value, f"s{n}", n * apart, n + 1) for n, value in enumerate(values)]


def doubts(found, earlier=(), wanted=EXPECTED, by=CALIPER, by_line=True):
    """What is doubted of a reading that the caliper sent."""
    return watch(found, earlier, wanted, by, by_line=by_line)


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
        (5.0, "less than a third of its target"),
        (54.1, "more than 3 times its target"),
        (18.1, ""),
        (18.9, ""),
    ],
)
def test_what_is_doubted_of_a_size(value, said):
    """Slips, closed jaws and jumps are asked about; a part still oversize is not."""
    found = doubts(row(value, "x", 60), rows(18.0, 18.05, 18.1))
    assert (said in found) if said else (found == "")


@pytest.mark.parametrize(("after", "doubted"), [(0.2, True), (1.5, True), (1.6, False)])
def test_the_same_value_again_at_once_is_asked_about(after, doubted):
    """Within a second and a half; two equal places read later are normal."""
    found = doubts(row(18.0, "b", after), [row(18.0, "a", 0)])
    assert ("pressed twice" in found) is doubted


def test_what_a_person_types_is_not_taken_for_a_bouncing_button():
    """Two equal readings from a pipe of typed lines."""
    assert doubts(row(18.0, "b", 0.1), [row(18.0, "a", 0)], by_line=False) == ""


def test_another_value_or_instrument_is_not_doubled():
    """Only the same number from the same instrument."""
    assert doubts(row(18.01, "b", 0.2), [row(18.0)]) == ""
    assert doubts(row(18.0, "b", 0.2), [replace(row(18.0), instrument="OTHER")]) == ""


def test_a_display_that_does_not_move_is_asked_about():
    """From the fifth place with one value; fewer may be chance."""
    same = rows(*[18.02] * (STUCK_AFTER - 1))
    assert "frozen" in doubts(row(18.02, "x", 60), same)
    assert doubts(row(18.02, "x", 60), same[1:]) == ""


def test_once_accepted_a_stuck_value_is_not_asked_about_again():
    """The run begins anew with the accepted row."""
    same = rows(*[18.02] * STUCK_AFTER)
    same.append(replace(same[-1], why=ACCEPTED, corrects=same[-1].sequence, sequence=99))
    assert doubts(row(18.02, "x", 60), same) == ""


def test_the_same_place_read_often_is_no_frozen_display():
    """A repeatability study at one station gives equal values."""
    assert doubts(row(18.02, "a", 60), [row(18.02, "a", n, n) for n in range(9)]) == ""


def test_a_new_pass_after_planing_is_no_jump():
    """Two millimetres came off: only places of this pass are compared."""
    first = rows(20.5, 20.4, 20.6)
    assert doubts(row(18.2, "s0", 60), first) == ""
    second = [*first, row(18.2, "s0", 61, 11), row(18.1, "s1", 66, 12)]
    assert "from the other places" in doubts(row(20.6, "s2", 70), second)


EVERY_KIND = """\
model = "m"
[parts.p.characteristics]
thickness = { kind = "thickness", target = 18, tolerance = 0.15, stations = { a = [0, 0], b = [9, 9] } }
width = { kind = "width", lower = 38, upper = 42, stations = { a = [0, 0] } }
length = { kind = "length", lower = 400, stations = { a = [0, 0] } }
height = { kind = "height", upper = 12, stations = { a = [0, 0] } }
plate = { kind = "area-thickness", target = 2.5, tolerance = 0.1, stations = { a = [0, 0], b = [9, 9] } }
moisture = { kind = "moisture", target = 8, tolerance = 1.5 }
radius = { kind = "radius", chord = 74, target = 190, fit_width = 78, limit = 0.1 }
bevel = { kind = "bevel", limit = 6, stations = { left = [0, 0], right = [40, 0] } }
gap = { kind = "gap", limit = 0.1, stations = { a = [0, 0], b = [9, 9] } }
offset = { kind = "offset", limit = 0.2 }
squareness = { kind = "squareness", blade_length = 75, over = 60, limit = 0.16 }
diagonals = { kind = "squareness", method = "diagonals", width = 300, length = 400, over = 400, limit = 0.5 }
straightness = { kind = "straightness", method = "feeler", limit = 0.08 }
leaves = { kind = "flatness", method = "feeler", limit = 0.08 }
flatness = { kind = "flatness", limit = 0.1, stations = { a = [0, 0], b = [9, 0], c = [0, 9], d = [9, 9] } }
taper = { kind = "taper", of = "thickness", limit = 0.1 }
"""
PART = read_plan(EVERY_KIND, "m.toml").part("p")
UNITS, DECIMALS = ("the other unit", "inches"), ("decimal slip",) * 2
A_SLIP = ("a slip",)
# What was read at another station; what is read; times which factors; and in which words that is doubted.
TABLE = [
    ("thickness", None, 18.05, (25.4, 1 / 25.4, 10, 0.1), UNITS + DECIMALS),
    ("width", None, 40.2, (25.4, 1 / 25.4, 10, 0.1), UNITS + DECIMALS),
    ("length", None, 402, (25.4, 1 / 25.4, 10, 0.1), UNITS + DECIMALS),
    ("height", None, 11.9, (25.4, 10), ("the other unit", "decimal slip")),
    ("plate", None, 2.52, (25.4, 1 / 25.4, 10, 0.1), UNITS + DECIMALS),
    ("moisture", None, 8.2, (10, 0.1, 25.4), (*DECIMALS, "25.4 times")),
    ("radius", None, 3.68, (25.4, 1 / 25.4, 10, 0.1), UNITS + DECIMALS),
    ("diagonals", None, 500.4, (25.4, 1 / 25.4, 10, 0.1), UNITS + DECIMALS),
    ("offset", 35.2, 34.9, (25.4, 1 / 25.4, 10, 0.1), UNITS + DECIMALS),
    ("flatness", 12.3, 12.35, (25.4, 1 / 25.4, 10, 0.1), UNITS + DECIMALS),
    ("bevel", None, 5.5, (25.4, 12), A_SLIP * 2),
    ("bevel", 7.0, 7.1, (25.4, 1 / 25.4), (UNITS[0], None)),
    ("gap", None, 0.09, (25.4, 12), A_SLIP * 2),
    ("squareness", None, -0.19, (25.4, 12), A_SLIP * 2),
    ("straightness", None, 0.08, (25.4, 12), A_SLIP * 2),
    ("leaves", None, -0.08, (25.4, 12), A_SLIP * 2),
]


def at(name, value, station="b", **more):
    """One reading of a characteristic of the part with every kind."""
    item = PART.characteristics[name]
    return replace(row(value, station, **more), characteristic=name, unit=item.unit)


@pytest.mark.parametrize(("name", "other", "value", "factors", "words"), TABLE)
def test_a_slip_of_unit_or_decimal_place_is_asked_about(name, other, value, factors, words):
    """In every kind, both ways where the plan or the other places tell; the right reading is not doubted."""
    by, wanted = Instrument(""), expected(PART.characteristics[name])
    earlier = [at(name, other, "a", sequence=1)] if other else []
    assert watch(at(name, value, after=9), earlier, wanted, by) == ""
    for factor, said in zip(factors, words, strict=True):
        found = watch(at(name, round(value * factor, 3), after=9), earlier, wanted, by)
        assert (said in found) if said is not None else (found == ""), (factor, found)


def test_every_kind_that_is_read_is_in_the_table():
    """One without a row is not watched on purpose, but by chance."""
    named = {PART.characteristics[name].kind for name, *_ in TABLE}
    assert named == set(kinds()) - {"taper", "twist"}


@pytest.mark.parametrize(
    ("name", "doubted"),
    [
        *((name, True) for name in ("thickness", "width", "length", "height", "plate")),
        *((name, False) for name in ("gap", "offset", "squareness", "leaves", "flatness", "bevel", "radius")),
    ],
)
def test_closed_jaws_are_asked_about_where_zero_is_no_size(name, doubted):
    """A gap of nothing is a good gap; a thickness of nothing is a check of the zero."""
    earlier = [at(name, 0.0, "a", sequence=1)] if not doubted else []
    found = watch(at(name, 0.0, after=9), earlier, expected(PART.characteristics[name]), CALIPER)
    assert ("were the jaws closed" in found) is doubted


@pytest.mark.parametrize(
    ("span", "value", "said"),
    [
        ((0, 150), 151.0, "is outside what CAL can read, 0 to 150 mm"),
        ((25, 50), 18.0, "is outside what CAL can read, 25 to 50 mm"),
        ((0.05, 1), 1.2, "0.05 to 1 mm"),
        ((0, 150), 150.0, None),
        ((0.05, 1), 0.0, None),
        ((0.05, 1), -0.1, None),
        ((-5, 5), -4.0, None),
        (None, 1e6, None),
    ],
)
def test_an_instrument_reads_within_its_range(span, value, said):
    """A leaf that does not enter is 0, a gap at the other end has a minus."""
    found = beyond_range(Instrument("CAL", span=span), value)
    assert (said in found) if said else found is None


@given(st.floats(17.9, 18.1), st.lists(st.floats(17.9, 18.1), max_size=8), st.floats(2, 100))
def test_good_readings_taken_in_their_time_are_left_in_peace(value, before, after):
    """Unless one value stands in five places: nothing near the target is asked about."""
    earlier = rows(*(round(item, 2) for item in before))
    found = doubts(row(round(value, 2), "x", after + 5 * len(before)), earlier)
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
    return Bench(sqlite_store, plan, plan.part("tail-block"), "B-1", CALIPER, clock=Clock())


def sent(value, unit="mm", at=None):
    """A reading as it came on the line."""
    return Reading(Decimal(value), unit, f"{value} {unit}".encode(), at)


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


@pytest.mark.parametrize(("apart", "stored_after", "doubled"), [(0.3, 5, True), (10, 0.1, False)])
def test_doubled_is_told_by_when_readings_came_not_by_when_they_were_stored(
    bench, apart, stored_after, doubled
):
    """A store that was locked for a while makes no two readings one, and no one two."""
    came = START - dt.timedelta(seconds=60)
    bench.take(sent("18.02", at=came))
    bench.clock.pass_by(stored_after)
    second = bench.take(sent("18.02", at=came + dt.timedelta(seconds=apart)))
    assert second.held is doubled
    assert [row.taken_at for row in bench.rows()] == [utc(came), utc(came + dt.timedelta(seconds=apart))]


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
