"""Flatness and straightness, by heights and by feeler."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.characteristics import flatness, straightness
from qa.characteristics.base import Characteristic, Station
from qa.conformity import Verdict

GRID = tuple(Station(f"{x}-{y}", x * 30.0, y * 45.0) for x in range(3) for y in range(3))
LINE = tuple(Station(f"p{at}", at * 3.0, at * 4.0) for at in (0, 10, 25, 60))
HEIGHTS = Characteristic("c", "flatness", "mm", None, None, 80_000, options={"method": "heights"})
tenths = st.floats(-0.3, 0.3)
NINE = (
    "stations = { " + ", ".join(f"s{x}{y} = [{x * 30}, {y * 45}]" for x in range(3) for y in range(3)) + " }"
)


def zone(module, stations, heights):
    """The one value of a kind for heights in the order of its stations."""
    readings = {station.name: height for station, height in zip(stations, heights, strict=True)}
    (value,) = module.evaluate(HEIGHTS, stations, readings)
    return value


@given(st.lists(tenths, min_size=9, max_size=9), tenths, tenths, tenths)
def test_flatness_does_not_see_how_the_face_lies(heights, up, along, across):
    """A zero offset or a slope of the bench changes flatness only by how much the slope foreshortens it."""
    tilted = [
        height + up + along * station.y / 90 + across * station.x / 60
        for station, height in zip(GRID, heights, strict=True)
    ]

    assert zone(flatness, GRID, tilted).value == pytest.approx(zone(flatness, GRID, heights).value, abs=5e-4)


@given(st.lists(tenths, min_size=4, max_size=4), tenths, tenths)
def test_straightness_does_not_see_how_the_edge_lies(heights, up, slope):
    """The same for an edge, read at stations along any line of the face."""
    tilted = [height + up + slope * station.x / 180 for station, height in zip(LINE, heights, strict=True)]
    level, sloped = zone(straightness, LINE, heights), zone(straightness, LINE, tilted)

    assert sloped.value == pytest.approx(level.value, abs=5e-4)
    assert math.fsum(level.sensitivities.values()) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("module", "stations"), [(flatness, GRID), (straightness, LINE)])
def test_a_true_face_is_still_uncertain(module, stations):
    """Where all heights are in one plane the value is 0, and its sensitivities are not."""
    value = zone(module, stations, [0.0] * len(stations))

    assert value.value == 0
    assert sum(abs(weight) for weight in value.sensitivities.values()) == pytest.approx(2, abs=1e-6)


def test_flatness_has_one_limit(judge):
    """Only too much is wrong: no lower limit, no target, and the caliper's zero does not count."""
    heights = dict.fromkeys([f"s{x}{y}" for x in range(3) for y in range(3)], 5.0) | {"s11": 5.05}
    found = judge({"c": f'kind = "flatness"\nlimit = 0.08\n{NINE}'}, {"c": heights})["c", None]

    assert (found.target, found.lower, found.upper, found.deviation) == (None, None, 0.08, None)
    assert found.value == pytest.approx(0.05)
    assert not [c for c in found.uncertainty.contributions if "permissible" in c.name and c.part > 1e-12]


@pytest.mark.parametrize("kind", ["flatness", "straightness"])
def test_the_size_of_the_largest_gap_counts_crowned_or_hollow(kind, judge):
    """A crowned face read with a minus is as far from true as a hollow one."""
    plan = {"c": f'kind = "{kind}"\nmethod = "feeler"\nlimit = 0.08\nstations = {{ a = [0, 0], b = [9, 9] }}'}
    found = judge(plan, {"c": {"a": 0.03, "b": -0.50}})["c", None]

    assert found.value == pytest.approx(0.5)
    assert found.verdict == Verdict.DOES_NOT_CONFORM
    assert found.why == "largest at b"


@pytest.mark.parametrize("kind", ["flatness", "straightness"])
def test_a_place_not_read_may_have_the_largest_gap(kind, judge):
    """The largest of some of the gaps is not the largest."""
    plan = {"c": f'kind = "{kind}"\nmethod = "feeler"\nlimit = 0.08\nstations = {{ a = [0, 0], b = [9, 9] }}'}

    assert judge(plan, {"c": {"a": 0.03}})["c", None].verdict == Verdict.NOT_MEASURED


@pytest.mark.parametrize(
    ("kind", "stations", "why"),
    [
        ("flatness", "{ a = [0, 0], b = [9, 0], c = [0, 9] }", "needs four or more"),
        ("flatness", "{ a = [0, 0], b = [1, 1], c = [2, 2], d = [5, 5] }", "off one line"),
        ("flatness", "{ a = [0, 0] }", "needs four or more"),
        ("straightness", "{ a = [0, 0], b = [0, 9] }", "needs three or more"),
        ("straightness", "{ a = [0, 0], b = [0, 9], c = [1, 18] }", "'b' is not on the line"),
        ("straightness", "{}", "must be a table of places"),
    ],
)
def test_stations_that_cannot_tell_are_a_problem_of_the_plan(kind, stations, why, problems):
    """Too few stations, or stations of the wrong layout, are refused where the plan is read."""
    (found,) = problems({"c": f'kind = "{kind}"\nlimit = 0.08\nstations = {stations}'})

    assert found.startswith("c.stations: ")
    assert why in found


def test_stations_at_one_place_are_a_problem_of_the_plan(problems):
    """Two stations at one place are said to be, beside anything else."""
    stations = "{ a = [0, 0], b = [0, 9], c = [9, 0], d = [9, 0] }"

    assert problems({"c": f'kind = "flatness"\nlimit = 0.08\nstations = {stations}'}) == [
        "c.stations.d: is at the same place as station 'c'"
    ]


def test_a_method_that_is_not_known_is_a_problem(problems):
    """The methods there are are named."""
    assert problems({"c": f'kind = "flatness"\nmethod = "eye"\nlimit = 0.08\n{NINE}'}) == [
        "c.method: 'eye' is none of: heights, feeler"
    ]


def test_positions_run_along_any_line():
    """Stations on a slanting line, in any order, are placed by their distance from its end."""
    jumbled = (LINE[2], LINE[0], LINE[3], LINE[1])

    assert straightness.positions(jumbled) == pytest.approx([125, 0, 300, 50])
