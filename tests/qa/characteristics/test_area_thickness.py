"""A plate read over a grid."""

import math

import pytest

from qa.conformity import Verdict

GRID = "stations = { a = [0, 0], b = [100, 0], c = [0, 80], d = [100, 80] }"
WHOLE = "range_limit = 0.12\nmean_tolerance = 0.06"
PLATE = f'kind = "area-thickness"\ntarget = 2.6\ntolerance = 0.15\n{WHOLE}\n{GRID}'
READ = {"a": 2.55, "b": 2.62, "c": 2.60, "d": 2.75}


def test_the_range_names_its_places_and_does_not_see_the_zero(judge):
    """Thickest less thinnest, with where they are; one caliper's zero cancels in it, not in the mean."""
    found = judge({"plate": PLATE}, {"plate": READ})
    over, mean = found["plate", "range"], found["plate", "mean"]
    own = math.hypot(0.01, 0.01 / math.sqrt(12))

    assert (over.value, over.lower, over.upper) == (pytest.approx(0.2), None, 0.12)
    assert over.verdict == Verdict.DOES_NOT_CONFORM
    assert over.why == "thinnest 2.55 at a, thickest 2.75 at d"
    assert over.standard_uncertainty == pytest.approx(own * math.sqrt(2))
    assert (mean.value, mean.lower, mean.upper) == (pytest.approx(2.63), 2.54, 2.66)
    assert mean.standard_uncertainty == pytest.approx(math.hypot(own / 2, 0.03 / math.sqrt(3)))


def test_the_whole_is_not_measured_until_every_station_is(judge):
    """A range or mean of some stations is not that of the plate; the stations read are judged."""
    found = judge({"plate": PLATE}, {"plate": {"a": 2.55, "d": 3.0}})

    assert found["plate", "d"].verdict == Verdict.DOES_NOT_CONFORM
    assert {found["plate", name].verdict for name in ("b", "c", "range", "mean")} == {Verdict.NOT_MEASURED}
    assert found["plate", "mean"].upper == 2.66


def test_an_even_plate_has_a_range_of_nothing_that_is_still_uncertain(judge):
    """All readings alike: the range is 0 and as uncertain as a difference of two readings."""
    found = judge({"plate": PLATE}, {"plate": dict.fromkeys(READ, 2.6)})["plate", "range"]

    assert found.value == 0
    assert found.standard_uncertainty == pytest.approx(math.sqrt(2) * math.hypot(0.01, 0.01 / math.sqrt(12)))


def test_only_what_is_planned_is_judged_of_the_whole(judge):
    """Without limits on range and mean there are only the stations."""
    lines = PLATE.replace(WHOLE, "")

    assert [station for _, station in judge({"plate": lines}, {"plate": READ})] == list("abcd")


def test_a_plate_is_a_size_that_a_taper_may_be_of(judge):
    """What is derived of a size may be derived of a plate."""
    plan = {"plate": PLATE, "taper": 'kind = "taper"\nof = "plate"\nlimit = 0.2'}

    assert judge(plan, {"plate": READ})["taper", None].value == pytest.approx(0.09)


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (PLATE.replace("b =", "mean ="), "plate.stations.mean: is the name of what is judged of all"),
        (PLATE.replace(GRID, "stations = { a = [0, 0] }"), "plate.stations: needs two or more"),
        (
            PLATE.replace("target = 2.6\ntolerance = 0.15", "upper = 3"),
            "plate.mean_tolerance: needs a target",
        ),
        (PLATE.replace("range_limit = 0.12", "range_limit = 0"), "plate.range_limit: must be above zero"),
    ],
    ids=["kept word", "one station", "no target", "no range"],
)
def test_a_plate_that_cannot_be_judged_as_a_whole_is_a_problem_of_the_plan(lines, found, problems):
    """Each fault is said with its key."""
    assert [line for line in problems({"plate": lines}) if line.startswith(found)]
