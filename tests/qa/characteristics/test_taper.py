"""Taper and twist: differences between the stations of a size."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.characteristics import kinds, taper, twist
from qa.characteristics.base import Characteristic, Station
from qa.conformity import Verdict

FACE = (Station("bl", 0, 0), Station("br", 60, 0), Station("tl", 0, 90), Station("tr", 60, 90))
FOUR = "stations = { bl = [0, 0], br = [60, 0], tl = [0, 90], tr = [60, 90] }"
SIZE = f'kind = "thickness"\ntarget = 18.0\ntolerance = 0.15\n{FOUR}'
TAPER = 'kind = "taper"\nof = "size"\nlimit = 0.10'
TWIST = 'kind = "twist"\nof = "size"\nlimit = 0.12'
small = st.floats(-5, 5)


def value(kind, readings, stations=FACE):
    """The value a kind gives at four corners."""
    planned = Characteristic("c", kind, "mm", 0, -1, 1, of="size")
    return kinds()[kind].evaluate(planned, stations, readings)[0].value


@given(small, small, small)
def test_twist_of_any_plain_taper_is_nothing(height, along, across):
    """A face that only slopes, along or across, has no twist."""
    readings = {s.name: height + along * s.y / 90 + across * s.x / 60 for s in FACE}

    assert value("twist", readings) == pytest.approx(0, abs=1e-9)
    assert value("taper", readings) == pytest.approx(along, abs=1e-9)


@given(st.lists(small, min_size=4, max_size=4), st.floats(-1, 1))
def test_a_zero_offset_changes_neither(sizes, offset):
    """Every reading off by the same gives the same taper and the same twist."""
    readings = dict(zip(["bl", "br", "tl", "tr"], sizes, strict=True))
    off = {name: size + offset for name, size in readings.items()}

    for kind in ("taper", "twist"):
        assert value(kind, off) == pytest.approx(value(kind, readings), abs=1e-9)


def test_the_sign_of_a_taper_names_the_thick_end():
    """Plus is thick at the top; the mean of an end counts however many stations it has."""
    stations = (*FACE, Station("tm", 30, 90), Station("waist", 30, 45))
    readings = {"bl": 10.0, "br": 10.0, "tl": 10.1, "tr": 10.2, "tm": 10.3, "waist": 99.0}

    assert value("taper", readings, stations) == pytest.approx(0.2)


@pytest.mark.parametrize("kind", ["taper", "twist"])
def test_one_calipers_zero_cancels_and_two_calipers_do_not(kind, judge):
    """A difference read by one caliper does not have its permissible error; read by two, it has both."""
    plan = {"size": SIZE, "c": TAPER if kind == "taper" else TWIST}
    readings = {"size": {"bl": 18.0, "br": 18.0, "tl": 18.02, "tr": 18.02}}
    one = judge(plan, readings)["c", None]
    two = judge(plan, readings, lambda station: "caliper" if station[0] == "t" else "other")["c", None]

    own = math.hypot(0.01, 0.01 / math.sqrt(12))
    weights = [0.5] * 4 if kind == "taper" else [1.0] * 4
    assert one.standard_uncertainty == pytest.approx(own * math.hypot(*weights))
    if kind == "taper":
        zeros = math.hypot(0.03, 0.03) / math.sqrt(3)
        assert two.standard_uncertainty == pytest.approx(math.hypot(own, zeros))
    else:  # each end of a twist has a plus and a minus, so each caliper's own zero cancels
        assert two.standard_uncertainty == pytest.approx(one.standard_uncertainty)


def test_a_part_may_taper_on_purpose(judge):
    """A target with its sign is held to, and the deviation is from it."""
    plan = {"size": SIZE, "c": f"{TAPER}\ntarget = -1.0"}
    readings = {"size": {"bl": 19.0, "br": 19.0, "tl": 18.02, "tr": 18.02}}
    found = judge(plan, readings)["c", None]

    assert (found.target, found.lower, found.upper) == (-1.0, -1.1, -0.9)
    assert found.deviation == pytest.approx(0.02)
    assert found.verdict == Verdict.CONFORMS


def test_a_missing_corner_leaves_the_difference_not_measured(judge):
    """A difference of readings that are not all there is not measured, whatever the others say."""
    readings = {"size": {"bl": 18.0, "br": 18.0, "tl": 19.0}}
    found = judge({"size": SIZE, "c": TAPER}, readings)

    assert found["c", None].verdict == Verdict.NOT_MEASURED
    assert found["size", "tl"].verdict == Verdict.DOES_NOT_CONFORM


@pytest.mark.parametrize(
    ("kind", "stations", "why"),
    [
        ("taper", "{ a = [0, 5], b = [60, 5] }", "a taper needs two ends"),
        ("taper", "{ a = [0, 0] }", "a taper needs two ends"),
        ("twist", "{ a = [0, 0], b = [60, 0], c = [0, 90] }", "largest x, largest y"),
        ("twist", "{ a = [0, 0], b = [0, 90] }", "all stations are at x = 0"),
        ("twist", "{ a = [9, 90], b = [39, 90], c = [3, 0], d = [45, 0] }", "smallest x, largest y"),
    ],
)
def test_stations_that_cannot_tell_are_a_problem_of_the_plan(kind, stations, why, problems):
    """What the stations of the size miss is said where the plan is read, not at the bench."""
    size = f'kind = "thickness"\ntarget = 18.0\ntolerance = 0.15\nstations = {stations}'
    (found,) = problems({"size": size, "c": f'kind = "{kind}"\nof = "size"\nlimit = 0.1'})

    assert found.startswith(f"c.of: {kind} of 'size' cannot be told: ")
    assert why in found


@pytest.mark.parametrize(
    ("of", "why"),
    [
        ("sise", "no characteristic of this part is called 'sise'; known: size"),
        ("other", "must name a size; 'other' is a gap"),
        ("c", "must name a size; 'c' is a taper"),
    ],
)
def test_only_a_size_has_a_taper(of, why, problems):
    """The name of what it is of must be a size of the same part."""
    plan = {
        "size": SIZE,
        "other": 'kind = "gap"\nlimit = 0.1',
        "c": f'kind = "taper"\nof = "{of}"\nlimit = 0.1',
    }

    assert problems(plan) == [f"c.of: {why}"]


def test_weights_name_only_the_stations_that_count():
    """Stations between the ends, or away from the corners, play no part and have no sensitivity."""
    stations = (*FACE, Station("waist", 30, 45))

    assert set(taper.weights(stations)) == set(twist.weights(stations)) == {"bl", "br", "tl", "tr"}
