"""What is read as parts are fitted together: offset, gap, bevel, moisture."""

import math

import pytest

from qa.conformity import Verdict

BEVEL = 'kind = "bevel"\nlimit = 6\nstations = { left = [0, 0], right = [40, 0] }'
FLAT = f"{BEVEL}\nwidth_of_face = 40\nflat_least = 30"
KEPT = "is the name of what is judged of all stations together; call the station something else"
MOISTURE = 'kind = "moisture"\nlower = 6\nupper = 10'


def test_an_offset_is_signed_and_does_not_see_the_zero(judge):
    """Plus lies right of the middle; half a difference of two readings of one caliper."""
    found = judge({"c": 'kind = "offset"\nlimit = 0.2'}, {"c": {"left": 35.5, "right": 34.5}})["c", None]

    assert (found.value, found.target) == (pytest.approx(0.5), 0)
    assert found.verdict == Verdict.DOES_NOT_CONFORM
    own = math.hypot(0.01, 0.01 / math.sqrt(12))
    assert found.standard_uncertainty == pytest.approx(own / math.sqrt(2))


@pytest.mark.parametrize(
    ("lines", "readings", "of"),
    [
        ('kind = "offset"\nlimit = 0.2', {"left": -35.0, "right": 35.0}, None),
        ('kind = "gap"\nlimit = 0.1', {"": -0.05}, None),
        (BEVEL, {"left": -1.0, "right": 2.0}, "left"),
        (MOISTURE, {"": -3.0}, None),
    ],
    ids=["offset", "gap", "bevel", "moisture"],
)
def test_what_cannot_be_below_zero_has_no_value_there(lines, readings, of, judge):
    """A minus where none can be is not judged as if it were small."""
    instrument = "meter" if "moisture" in lines else "caliper"
    found = judge({"c": lines}, {"c": readings}, lambda station: instrument)["c", of]

    assert (found.verdict, found.value) == (Verdict.UNDECIDED, None)
    assert "below zero" in found.why or "negative" in found.why


def test_a_gap_is_uncertain_by_its_leaf_step(judge, plan):
    """The step of the leaves and their repeatability make up the doubt; more than the limit does not fit."""
    lines = 'kind = "gap"\nlimit = 0.1\nstations = { waist = [0, 0], lower = [9, 0] }'
    found = judge({"c": lines}, {"c": {"waist": 0.0, "lower": 0.2}})

    assert found["c", "waist"].verdict == Verdict.CONFORMS
    assert found["c", "lower"].verdict == Verdict.DOES_NOT_CONFORM


def test_the_flat_left_between_bevels_is_judged_once_both_are_read(judge):
    """Not measured with one bevel read; face less both, and as uncertain as both together, with two."""
    one = judge({"c": FLAT}, {"c": {"left": 4.0}})["c", "flat"]
    both = judge({"c": FLAT}, {"c": {"left": 5.5, "right": 5.0}})["c", "flat"]

    assert (one.verdict, one.lower, one.upper) == (Verdict.NOT_MEASURED, 30, None)
    assert both.value == pytest.approx(29.5)
    assert both.verdict == Verdict.DOES_NOT_CONFORM
    shared = next(c for c in both.uncertainty.contributions if "permissible" in c.name)
    assert shared.part == pytest.approx(2 * 0.03 / math.sqrt(3))


def test_without_a_least_flat_only_the_bevels_are_judged(judge):
    """A plan that asks for no flat gets no verdict on one."""
    assert set(judge({"c": BEVEL}, {})) == {("c", "left"), ("c", "right")}


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (
            FLAT.replace("flat_least = 30", "flat_least = 40"),
            "c.flat_least: is not below width_of_face: no bevel could be cut",
        ),
        (
            FLAT.replace("right", "flat"),
            f"c.stations.flat: {KEPT}",
        ),
        (
            FLAT.replace("right", "top = [0, 9], right"),
            "c.stations: may be two at most beside flat_least: a face has a bevel on either side",
        ),
    ],
    ids=["no room", "kept word", "three bevels"],
)
def test_bevels_that_leave_no_flat_are_a_problem_of_the_plan(lines, found, problems):
    """What cannot be judged as planned is said where the plan is read."""
    assert problems({"c": lines}) == [found]


def test_moisture_is_in_per_cent_of_a_meter(judge):
    """Limits, value and uncertainty are in per cent, by the meter's own permissible error."""
    found = judge({"c": MOISTURE}, {"c": {"": 8.0}}, lambda station: "meter")["c", None]

    assert (found.unit, found.lower, found.upper) == ("%", 6, 10)
    own = math.hypot(0.01, 0.01 / math.sqrt(12))
    assert found.standard_uncertainty == pytest.approx(math.hypot(own, 2 / math.sqrt(3)))


def test_moisture_that_names_no_meter_is_as_uncertain_as_a_usual_one(judge):
    """A typed moisture is not taken to be as good as a typed length."""
    found = judge({"c": MOISTURE}, {"c": {"": 8.0}}, lambda station: "")["c", None]

    assert found.standard_uncertainty > 0.5


def test_moisture_read_by_a_caliper_is_not_judged(judge):
    """An instrument that reads millimetres cannot have read per cent."""
    found = judge({"c": MOISTURE}, {"c": {"": 8.0}}, lambda station: "caliper")["c", None]

    assert (found.verdict, found.value) == (Verdict.UNDECIDED, None)
    assert "caliper, which measures length in mm, not %" in found.why


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (
            'kind = "moisture"\nlower = 6\nupper = 120',
            "c: allows 120 per cent; limits lie between 0 and 100 per cent",
        ),
        (
            'kind = "moisture"\ntarget = 8\ntolerance = 9',
            "c: allows -1 per cent; limits lie between 0 and 100 per cent",
        ),
        (
            'kind = "moisture"\nlower = "6 mm"\nupper = 9',
            "c.lower: must be a number in per cent such as 8.0, not '6 mm'",
        ),
        ('kind = "moisture"\nlower = 9\nupper = 6', "c.lower: is not below upper: nothing lies between them"),
        (
            'kind = "moisture"\ntarget = 8',
            "c.tolerance: is missing: give a tolerance, or a lower or upper limit",
        ),
    ],
)
def test_limits_that_are_no_moisture_are_a_problem_of_the_plan(lines, found, problems):
    """Per cent are numbers between 0 and 100, the lower below the upper."""
    assert found in problems({"c": lines})


def test_moisture_is_kept_exactly(plan):
    """Limits are whole millionths of a per cent, the stations still in millimetres."""
    lines = 'kind = "moisture"\ntarget = 8.1\ntolerance = [-0.7, 0.2]\nstations = { end = ["1 in", 0] }'
    found = plan({"c": lines}).characteristics["c"]

    assert (found.target, found.lower, found.upper) == (8_100_000, 7_400_000, 8_300_000)
    assert found.stations[0].x == 25.4
