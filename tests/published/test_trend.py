"""Trend tests against published figures and independent libraries."""

from math import comb

import numpy as np
import pytest

from qa.trend import change_point, mann_kendall, theil_sen


def test_four_values_exact():
    """Gilbert 1987, chapter 16: 10, 15, 14, 20 give S = 4, one-sided chance 0.167 (from memory)."""
    found = mann_kendall([10, 15, 14, 20])

    assert found.s == 4
    assert found.p / 2 == pytest.approx(0.167, abs=5e-4)


@pytest.mark.parametrize(("n", "one_sided"), [(3, 0.167), (4, 0.042), (5, 0.0083)])
def test_smallest_attainable_chance(n, one_sided):
    """Gilbert 1987, Table A18: the smallest one-sided chance of n values is 1/n! (from memory)."""
    found = mann_kendall(range(n))

    assert found.s == comb(n, 2)
    assert found.p / 2 == pytest.approx(one_sided, abs=4e-4)


@pytest.mark.parametrize("n", [10, 25])
def test_normal_score_by_definition(n):
    """Kendall 1975: variance n(n-1)(2n+5)/18, continuity one; no ties."""
    y = np.random.default_rng(n).normal(size=n) + 0.1 * np.arange(n)
    found = mann_kendall(y)

    assert found.z == pytest.approx((found.s - np.sign(found.s)) / np.sqrt(n * (n - 1) * (2 * n + 5) / 18))


def test_sen_interval_of_ten_and_more_is_scipys():
    """Sen 1968 by an independent library: scipy's theilslopes on 15 values."""
    from scipy.stats import theilslopes

    x = np.arange(15.0)
    y = 0.2 * x + np.random.default_rng(5).normal(size=15)
    expected = theilslopes(y, x, 0.9)

    found = theil_sen(x, y, confidence=0.9)
    assert (found.slope, found.intercept, found.low, found.high) == pytest.approx(tuple(expected))


def test_change_in_the_nile():
    """Cobb 1978, Biometrika 65: the Nile's flow fell between 1898 and 1899 (data from statsmodels)."""
    from statsmodels.datasets import nile

    flow = nile.load_pandas().data
    found = change_point(flow["volume"])

    assert flow["year"][found.index] == 1899
    assert found.p < 0.001
    assert (found.before, found.after) == pytest.approx((1097.75, 849.97), abs=0.01)
