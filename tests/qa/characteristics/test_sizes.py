"""Sizes, judged station by station."""

import math

import pytest

from qa.conformity import Verdict

TWO = "stations = { near = [0, 0], far = [0, 90] }"


@pytest.mark.parametrize(
    ("lines", "limits"),
    [
        ("target = 18.0\ntolerance = 0.15", (18_000_000, 17_850_000, 18_150_000)),
        ("target = 18.0\ntolerance = [-0.10, 0.20]", (18_000_000, 17_900_000, 18_200_000)),
        ('target = "1 1/4 in"\ntolerance = "1/64 in"', (31_750_000, 31_353_125, 32_146_875)),
        ("target = 6.0\nlower = 5.9", (6_000_000, 5_900_000, None)),
        ("upper = 2.5", (None, None, 2_500_000)),
    ],
)
def test_limits_are_exact_and_inclusive(lines, limits, plan):
    """Limits are whole nanometres, in whichever way and unit the plan gives them."""
    found = plan({"c": f'kind = "height"\n{lines}\n{TWO}'}).characteristics["c"]

    assert (found.target, found.lower, found.upper) == limits


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        ("target = 18.0\ntolerance = [0.2, -0.1]", "c.tolerance: is upside down"),
        ("target = 18.0\ntolerance = [0.1]", "c.tolerance: must be one plus-minus length, or a pair"),
        ("target = 18.0", "c.tolerance: is missing: give a tolerance"),
        ("tolerance = 0.1", "c.target: is missing or wrong"),
        ("target = -18.0\ntolerance = 0.1", "c.target: must be above zero"),
        ("target = 18.0\ntolerance = 0.1\nupper = 19", "c.tolerance: is given beside lower or upper"),
        ("lower = 5\nupper = 5", "c.lower: is not below upper"),
        ("target = nan\ntolerance = 0.1", "c.target: "),
        ("target = inf\ntolerance = 0.1", "c.target: "),
        ("target = 18.0\ntolerance = 0.1\nconfidence = 1.0", "c.confidence: must lie between 0.5 and 1"),
    ],
)
def test_limits_that_hold_nothing_are_a_problem_of_the_plan(lines, found, problems):
    """Each fault is said with its key."""
    assert any(line.startswith(found) for line in problems({"c": f'kind = "width"\n{lines}\n{TWO}'}))


@pytest.mark.parametrize(
    ("stations", "found"),
    [
        ("", "c.stations: is missing"),
        ("stations = 4", "c.stations: must be a table of places"),
        ("stations = { a = [0] }", "c.stations.a: must be [x, y] on the face, not [0]"),
        ("stations = { a = [0, true] }", "c.stations.a: must be a length"),
        ("stations = { a = [0, 0], b = [0, 0] }", "c.stations.b: is at the same place as station 'a'"),
    ],
)
def test_stations_that_are_no_places_are_a_problem_of_the_plan(stations, found, problems):
    """Each fault is said with its key."""
    lines = f'kind = "width"\ntarget = 18.0\ntolerance = 0.1\n{stations}'

    assert any(line.startswith(found) for line in problems({"c": lines}))


def test_each_station_has_its_verdict_in_the_order_of_the_plan(judge):
    """A station not read stands in its place among the others, not measured."""
    lines = f'kind = "thickness"\ntarget = 18.0\ntolerance = 0.15\n{TWO}'
    found = judge({"c": lines}, {"c": {"far": 18.0}})

    assert [(station, item.verdict) for (_, station), item in found.items()] == [
        ("near", Verdict.NOT_MEASURED),
        ("far", Verdict.CONFORMS),
    ]


def test_how_far_the_jaws_move_soft_wood_widens_a_size_and_not_a_difference(judge):
    """The give of the jaws is one error over a part: in a size it counts, in a taper it cancels."""
    lines = f'kind = "thickness"\ntarget = 18.0\ntolerance = 0.3\n{TWO}'
    plan = {"c": lines, "t": 'kind = "taper"\nof = "c"\nlimit = 0.2', "g": 'kind = "gap"\nlimit = 0.1'}
    read = {"c": {"near": 18.0, "far": 18.0}, "g": {"": 0.05}}
    hard, soft = judge(plan, read), judge(plan, read, part='species = "sitka spruce"\njaw_give = 0.05')

    assert soft["c", "near"].standard_uncertainty == pytest.approx(
        math.hypot(hard["c", "near"].standard_uncertainty, 0.05 / math.sqrt(3))
    )
    assert "jaws on sitka spruce" in {c.name for c in soft["c", "near"].uncertainty.contributions}
    assert soft["t", None].standard_uncertainty == pytest.approx(hard["t", None].standard_uncertainty)
    assert soft["g", None].standard_uncertainty == hard["g", None].standard_uncertainty


@pytest.mark.parametrize("give", ["-0.02", "0.6", '"much"'])
def test_a_give_of_the_jaws_out_of_reason_is_a_problem_of_the_plan(give, problems):
    """It is a small length."""
    lines = f'kind = "thickness"\ntarget = 18.0\ntolerance = 0.3\n{TWO}'

    assert [line for line in problems({"c": lines}, f"jaw_give = {give}") if "jaw_give" in line]
