"""A long series is drawn by few points, and nothing out of tolerance is lost among them."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.drift.envelope import BINS, MOST_OUTSIDE, envelope
from qa.errors import CannotSay

VALUES = st.lists(st.floats(-10, 10), max_size=300)


def test_bins_by_hand():
    """Six values in three bins: least, mean and greatest of each pair; 5 is above its limit of 4."""
    found = envelope([1, 3, 2, 2, 5, 0], [0] * 6, [4] * 6, bins=3)

    assert found.first.tolist() == [0, 2, 4]
    assert found.last.tolist() == [1, 3, 5]
    assert found.least.tolist() == [1, 2, 0]
    assert found.mean.tolist() == [2, 2, 2.5]
    assert found.greatest.tolist() == [3, 2, 5]
    assert found.outside.tolist() == [4]
    assert not found.thinned


@given(VALUES, st.integers(1, 40))
def test_bins_part_the_series(values, bins):
    """Every value is in one bin, between its least and greatest, and no bin is empty."""
    found = envelope(values, bins=bins)

    covered = [i for a, b in zip(found.first, found.last, strict=True) for i in range(a, b + 1)]
    assert covered == list(range(len(values)))
    assert len(found.first) == min(bins, len(values))
    for a, b, least, mean, most in zip(
        found.first, found.last, found.least, found.mean, found.greatest, strict=True
    ):
        assert least == min(values[a : b + 1])
        assert most == max(values[a : b + 1])
        assert math.isclose(mean, math.fsum(values[a : b + 1]) / (b - a + 1), abs_tol=1e-9)


@given(VALUES)
def test_every_value_beyond_its_limits_is_a_point_of_its_own(values):
    """Limits are inclusive, as everywhere; the same as a plain comparison finds."""
    found = envelope(values, [-5.0] * len(values), [5.0] * len(values))

    assert found.outside.tolist() == [i for i, value in enumerate(values) if not -5 <= value <= 5]
    assert found.beyond == len(found.outside)


@given(VALUES)
def test_a_short_series_keeps_every_value(values):
    """With as many bins as values, least, mean and greatest are the value itself."""
    found = envelope(values, bins=300)

    assert found.least.tolist() == found.mean.tolist() == found.greatest.tolist() == values


def test_a_million_values_are_drawn_by_fewer_than_three_thousand_points():
    """Even when a third of them are out of tolerance; the furthest stays, and all are counted."""
    values = np.random.default_rng(4).normal(0, 1, 1_000_000)
    found = envelope(values, np.full(values.size, -1.0), np.full(values.size, 1.0))

    assert 3 * found.first.size + found.outside.size <= 3000
    assert found.first.size == BINS
    assert found.outside.size <= MOST_OUTSIDE
    assert found.beyond == int((np.abs(values) > 1).sum())
    assert found.thinned
    assert int(np.argmax(np.abs(values))) in found.outside
    assert np.all(np.diff(found.outside) > 0)
    assert (np.abs(values[found.outside]) > 1).all()


def test_where_points_are_thinned_each_bin_keeps_its_furthest_on_either_side():
    """Two bins, all out: the furthest above and below of each."""
    found = envelope([2, 3, -2, -4, 5, 2, -3, -2], [-1] * 8, [1] * 8, bins=2, most_outside=5)

    assert found.outside.tolist() == [1, 3, 4, 6]
    assert found.beyond == 8


def test_no_limit_is_beyond_nothing():
    """NaN says that there is no limit on that side."""
    found = envelope([-9, 9], [math.nan, 0], [0, math.nan])

    assert found.outside.tolist() == []


@pytest.mark.parametrize(
    ("given", "why"),
    [
        (([1, math.nan],), "not a finite number|not finite|nan"),
        (([1, 2], [0]), "2 values cannot have 1 limits"),
        (([1, 2], [0, 3], [1, 2]), "limits are reversed at index 1"),
        (([1, 2], None, None, 0), "needs one or more bins"),
    ],
)
def test_bad_input_says_why(given, why):
    """Never a picture of something else."""
    with pytest.raises(CannotSay, match=why):
        envelope(*given)
