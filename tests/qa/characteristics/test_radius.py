"""Radius: the gap to the mould from the sagitta over a chord."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from qa.characteristics import radius
from qa.characteristics.base import ONCE, Characteristic
from qa.conformity import Verdict

RADIUS = 'kind = "radius"\nchord = 74\ntarget = 190\nfit_width = 78\nlimit = 0.10'
OPTIONS = {"chord": 74.0, "radius": 190.0, "fit_width": 78.0}
PLANNED = Characteristic("c", "radius", "mm", 0, -100_000, 100_000, ONCE, options=OPTIONS)


def rise(of, over):
    """Sagitta of a radius over a width."""
    return of - math.sqrt(of * of - over * over / 4)


def gap(sagitta):
    """The value for one reading."""
    (value,) = radius.evaluate(PLANNED, ONCE, {"": sagitta})
    return value


@given(st.floats(45, 5000))
def test_the_gap_is_the_difference_of_two_arcs(of):
    """Plus for a face rounder than its mould (open at the edges), minus for a flatter one."""
    found = gap(rise(of, 74)).value

    assert found == pytest.approx(rise(of, 78) - rise(190, 78), abs=1e-6)
    assume(abs(of - 190) > 0.01)
    assert (found > 0) == (of < 190)


def test_a_flat_or_hollow_face_is_judged(judge):
    """A flat face is a whole mould's sagitta from fitting, a hollow one further; neither fits."""
    flat, hollow = gap(0.0).value, gap(-rise(500, 74)).value

    assert flat == pytest.approx(-rise(190, 78))
    assert hollow == pytest.approx(-rise(500, 78) - rise(190, 78))
    assert judge({"c": RADIUS}, {"c": {"": 0.0}})["c", None].verdict == Verdict.DOES_NOT_CONFORM


@pytest.mark.parametrize("sagitta", [40.0, -40.0, 37.0], ids=["past half", "past half, hollow", "too narrow"])
def test_an_arc_that_cannot_be_has_no_value(sagitta, judge):
    """More than a half circle, or an arc narrower than the fit, is undecided with its reason."""
    found = judge({"c": RADIUS}, {"c": {"": sagitta}})["c", None]

    assert (found.value, found.standard_uncertainty, found.conformance_probability) == (None, None, None)
    assert found.verdict == Verdict.UNDECIDED
    assert "half circle" in found.why or "narrower than the fit width" in found.why


def test_each_station_is_judged_by_itself(judge):
    """One station misread, one not read: the others have their verdicts."""
    plan = {"c": f"{RADIUS}\nstations = {{ top = [0, 74], middle = [0, 37], bottom = [0, 0] }}"}
    found = judge(plan, {"c": {"top": 3.64, "middle": 40.0}})

    assert [found["c", station].verdict for station in ("top", "middle", "bottom")] == [
        Verdict.CONFORMS,
        Verdict.UNDECIDED,
        Verdict.NOT_MEASURED,
    ]


def test_the_mould_must_have_room_for_the_face(problems):
    """A chord or a width wider than the mould's whole circle is a slip of the plan."""
    plan = RADIUS.replace("190", "38")

    assert problems({"c": plan}) == ["c.fit_width: is wider than the whole circle of radius 38 mm"]
