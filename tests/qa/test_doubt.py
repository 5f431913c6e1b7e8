"""A size a unit or a decimal place away from its target is doubted; rough stock is not."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.arithmetic.doubt import SLIPS, doubt, slips


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (457.2, "25.4 times its target"),
        (470.0, "25.4 times its target"),
        (0.7087, "divided by 25.4"),
        (0.69, "divided by 25.4"),
        (180.0, "10 times its target"),
        (1.85, "a tenth of its target"),
    ],
)
def test_each_slip_is_told_apart(value, words):
    """The other unit, or a decimal place, within a few per cent; against a target of 18 mm."""
    assert words in doubt(value, 18.0)


@pytest.mark.parametrize("value", [18.0, 18.2, 26.0, 36.0, 54.0, 90.0, 9.0, 3.0, 0.0, -18.0])
def test_other_sizes_are_believed(value):
    """Wood is cut oversize and planed; a size far off but not by such a factor is simply far off."""
    assert doubt(value, 18.0) == ""


def test_without_a_target_nothing_is_doubted():
    """There is nothing to compare with."""
    assert doubt(457.2, None) == doubt(457.2, 0.0) == doubt(457.2, float("nan")) == ""


@given(st.floats(0.01, 5000), st.integers(0, 3), st.floats(-0.04, 0.04))
def test_slips_at_any_size(target, place, off):
    """Whatever the target, a slip within 4 per cent is seen; the size itself is not."""
    assert doubt(target * SLIPS[place][0] * (1 + off), target) == SLIPS[place][1]
    assert doubt(target * (1 + off), target) == ""


def test_many_at_once_as_one_by_one():
    """The array form gives for each value what it gives alone, bad numbers included."""
    values = np.array([457.2, 18.0, np.nan, np.inf, 1.8, -457.2, 0.0])
    assert slips(values, 18.0).tolist() == [0, -1, -1, -1, 3, -1, -1]
    assert slips([1.0, 2.0], [np.nan, 0.0]).tolist() == [-1, -1]
