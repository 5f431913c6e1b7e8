"""An instrument's error by size: offset and scale told apart where the readings allow it, and only then."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.calipers.bias import bias, weighted_line
from qa.errors import CannotSay
from qa.instruments import Instrument, Stretch, budget
from qa.uncertainty import combine


def test_an_offset_alone_is_found_as_one():
    """Every size 0.06 too high: mean and offset 0.06, no scale."""
    found = bias([0, 25, 50], [0.06, 25.06, 50.06], 0.01)
    assert found.mean == pytest.approx(0.06)
    assert found.line.intercept == pytest.approx(0.06)
    assert not found.scaled
    assert found.straight is True
    assert found.at(40)[0] == pytest.approx(0.06)


def test_a_scale_error_alone_is_found_as_one():
    """One in a thousand too long."""
    found = bias([0, 50, 100, 150], [0.0, 50.05, 100.10, 150.15], 0.01)
    assert found.scaled
    assert found.line.slope == pytest.approx(0.001)
    assert found.line.intercept == pytest.approx(0.0, abs=1e-12)
    assert found.at(75)[0] == pytest.approx(0.075)


def test_one_size_cannot_tell_offset_from_scale():
    """However often it is read."""
    found = bias([25] * 6, [25.02, 25.03, 25.02, 25.03, 25.02, 25.03], 0.01)
    assert found.line is None
    assert not found.covers(25)
    assert found.mean == pytest.approx(0.025)
    assert found.dof == 5


def test_two_sizes_cannot_tell_whether_the_error_is_straight():
    """A line goes through any two points."""
    assert bias([0, 25], [0.0, 25.02], 0.01).straight is None


def test_a_crooked_error_is_said_and_widens_what_is_claimed():
    """A worn place in the middle of the scale."""
    straight = bias([0, 25, 50, 75], [0, 25, 50, 75], 0.01)
    crooked = bias([0, 25, 50, 75], [0, 25.06, 50.06, 75], 0.01)
    assert crooked.straight is False
    assert crooked.at(40)[1] > 2 * straight.at(40)[1]


def test_one_reading_of_a_block_by_hand():
    """Step 0.01 as repeatability, its rounding and the block's: 0.01, 0.01/√12 and 0.002 in squares."""
    found = bias([25], [25.01], 0.01, 0.002)
    assert found.u_mean == pytest.approx(math.sqrt(0.01**2 + 0.01**2 / 12 + 0.002**2))
    assert found.dof == math.inf


def test_repeats_replace_the_assumed_scatter_from_four_degrees_of_freedom():
    """Five closings of the jaws: their own standard deviation over √5."""
    readings = [0.0, 0.01, 0.0, 0.01, 0.0]
    found = bias([0] * 5, readings, 0.01)
    scatter = np.std(readings, ddof=1)
    assert found.noise == pytest.approx(scatter)
    assert found.u_mean == pytest.approx(math.sqrt(scatter**2 / 5 + 0.01**2 / 12))


def test_uncertainty_grows_away_from_the_sizes_read():
    """Between the blocks it is least, far outside it is large."""
    found = bias([0, 25], [0, 25], 0.01)
    assert found.at(12.5)[1] < found.at(25)[1] < found.at(100)[1]
    assert found.covers(12.5)
    assert not found.covers(100)


@given(
    st.floats(-0.2, 0.2),
    st.floats(-0.002, 0.002),
    st.lists(st.floats(0, 150), min_size=2, max_size=12, unique_by=lambda x: round(x, 1)),
)
def test_an_exact_line_is_given_back(offset, scale, sizes):
    """Whatever offset and scale: the error at any size read is what was put in."""
    readings = [size + offset + scale * size for size in sizes]
    found = bias(sizes, readings, 0.01)
    for size in sizes:
        assert found.line.at(size)[0] == pytest.approx(offset + scale * size, abs=1e-8)


def test_the_claimed_uncertainty_holds_in_simulation():
    """Of 4000 made-up checks with known noise, the true offset lies within two u in 95 % (± 1.5)."""
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(4000):
        sizes = np.array([0.0, 25.0, 50.0])
        found = bias(sizes, sizes + 0.03 + rng.normal(0, 0.01, 3), 1e-6, usual_noise=0.01)
        error, u = found.line.at(25.0)
        inside += abs(error - 0.03) <= 2 * u
    assert inside / 4000 == pytest.approx(0.954, abs=0.015)


@pytest.mark.parametrize(
    ("references", "readings", "step"),
    [
        ([], [], 0.01),
        ([25], [25, 26], 0.01),
        ([25], [math.nan], 0.01),
        ([math.inf], [25], 0.01),
        ([25], [25], 0.0),
        ([25], [25], -0.01),
    ],
    ids=["none", "lengths", "nan", "infinite", "no step", "step below zero"],
)
def test_what_cannot_be_said_is_said(references, readings, step):
    """No wrong number for empty, unequal, not finite or senseless input."""
    with pytest.raises(CannotSay):
        bias(references, readings, step)


@pytest.mark.parametrize(
    "points",
    [
        ([1.0], [1.0], [0.1]),
        ([1.0, 1.0], [1.0, 2.0], [0.1, 0.1]),
        ([1, 2], [1, 2], [0.1, 0.0]),
        ([1, 2], [1, 2], None),
    ],
    ids=["one", "one x", "no uncertainty", "no scatter"],
)
def test_a_line_needs_two_places(points):
    """And uncertainties above zero, or three points to see the scatter."""
    with pytest.raises(CannotSay):
        weighted_line(*points)


CALIPER = Instrument("CAL", resolution=0.01, max_permissible_error=0.03, repeatability=0.01)
GOOD = bias([0, 25], [0.01, 25.01], 0.01)
CHECKED = Instrument(
    "CAL",
    resolution=0.01,
    max_permissible_error=0.03,
    repeatability=0.01,
    history=(Stretch("2025-02", verified=None), Stretch("2025-03", "", GOOD), Stretch("9999", "2025-03-01")),
)


def shared(instrument, at, size):
    """The one error common to readings of an instrument."""
    ((cause, line),) = budget(instrument, at=at, size=size).shared.items()
    return cause, line.u


def test_a_verified_bias_stands_in_place_of_the_permissible_error():
    """Not taken off the reading: counted as an error of b² + u²(b)."""
    error, u = GOOD.at(20)
    assert shared(CHECKED, "2025-02-15", 20)[1] == pytest.approx(math.hypot(error, u))
    assert shared(CHECKED, "2025-02-15", 20)[1] < 0.03 / math.sqrt(3)


@pytest.mark.parametrize(
    ("at", "size"),
    [("2025-01-01", 20), ("2025-04-01", 20), ("2025-02-15", 78), ("2025-02-15", None), ("", 20)],
    ids=["before the check", "after a fix", "beyond the blocks", "not between the jaws", "no moment"],
)
def test_elsewhere_the_permissible_error_stays(at, size):
    """What the check did not cover is not believed any better."""
    assert shared(CHECKED, at, size)[1] == pytest.approx(0.03 / math.sqrt(3))


def test_errors_are_common_within_one_adjustment_only():
    """The cause before and after a good check is one, after an adjustment another."""
    assert shared(CHECKED, "2025-01-01", 20)[0] == shared(CHECKED, "2025-02-15", 20)[0]
    assert shared(CHECKED, "2025-04-01", 20)[0] != shared(CHECKED, "2025-02-15", 20)[0]
    assert shared(CALIPER, "2025-04-01", 20)[0] == "permissible error of CAL"


def test_a_study_brings_its_degrees_of_freedom():
    """The repeatability of a study counts with n - 1 degrees of freedom (JCGM 100:2008, 4.2)."""
    studied = Instrument("CAL", repeatability=0.02, repeatability_dof=9)
    found = budget(studied)
    own = combine(found.own)
    assert own.dof == pytest.approx(9 * (own.u / 0.02) ** 4)
