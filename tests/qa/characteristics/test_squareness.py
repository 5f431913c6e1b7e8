"""Squareness by a feeler under a square, and by diagonals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.characteristics import squareness
from qa.characteristics.base import Characteristic
from qa.conformity import Verdict

FEELER = 'kind = "squareness"\nblade_length = 75\nover = 60\nlimit = '
DIAGONALS = 'kind = "squareness"\nmethod = "diagonals"\nwidth = 300\nlength = 400\nover = 400\nlimit = 0.5'


def test_the_limit_may_be_an_angle(plan):
    """0.2 degrees over 60 mm is 60 tan(0.2 deg), to the nanometre."""
    limits = [
        plan({"c": FEELER + limit}).characteristics["c"] for limit in ('"0.2 deg"', '"0,2°"', "0.20944")
    ]

    assert {(c.lower, c.upper) for c in limits} == {(-209_440, 209_440)}
    assert round(60 * math.tan(math.radians(0.2)), 6) == 0.20944


@pytest.mark.parametrize("angle", ["0 deg", "45 deg", "90°"])
def test_an_angle_that_is_no_limit_is_a_problem(angle, problems):
    """An angle of nothing, or one no corner is out by, is refused."""
    assert problems({"c": f'{FEELER}"{angle}"'}) == [
        f"c.limit: must lie between 0 and 45 degrees, not {angle}"
    ]


def test_either_side_of_square_counts(judge):
    """A corner that leans the other way is read with a minus, and is as far from square."""
    found = judge({"c": FEELER + "0.15"}, {"c": {"": -0.5}})["c", None]

    assert found.value == pytest.approx(-0.4)
    assert found.verdict == Verdict.DOES_NOT_CONFORM


@given(st.floats(-10, 10), st.floats(50, 900), st.floats(50, 900))
def test_diagonals_give_back_the_corner_they_were_made_from(lean, width, length):
    """A parallelogram drawn with a corner `lean` degrees from square is found to be so."""
    corner = math.radians(90 + lean)
    x, y = length * math.cos(corner), length * math.sin(corner)
    options = {"method": "diagonals", "width": width, "length": length, "over": 100.0}
    planned = Characteristic("c", "squareness", "mm", 0, -1, 1, squareness.DIAGONALS, options=options)
    readings = {"diagonal-1": math.hypot(width - x, y), "diagonal-2": math.hypot(width + x, y)}
    (value,) = squareness.evaluate(planned, squareness.DIAGONALS, readings)

    assert value.value == pytest.approx(100 * math.tan(math.radians(lean)), rel=1e-6, abs=1e-9)


def test_one_tapes_zero_all_but_cancels_between_diagonals(judge):
    """The permissible error of the one instrument that read both is next to nothing in the difference."""
    found = judge({"c": DIAGONALS}, {"c": {"diagonal-1": 500.3, "diagonal-2": 499.7}})["c", None]

    shared = next(c for c in found.uncertainty.contributions if "permissible" in c.name)
    assert shared.part < 0.01 * found.standard_uncertainty


@pytest.mark.parametrize(
    "readings",
    [(50.0, 50.0), (500.0, 600.0), (0.0, 500.0), (-500.0, 500.0), (705.0, 70.0)],
    ids=["slip of a place", "one misread", "nothing", "below zero", "leaning flat"],
)
def test_diagonals_of_another_shape_are_not_judged(readings, judge):
    """Diagonals that the planned rectangle cannot have give no value, and a reason."""
    found = judge({"c": DIAGONALS}, {"c": dict(zip(("diagonal-1", "diagonal-2"), readings, strict=True))})

    assert found["c", None].verdict == Verdict.UNDECIDED
    assert found["c", None].value is None
    assert "diagonal" in found["c", None].why
