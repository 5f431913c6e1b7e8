"""Capability and tolerance intervals against published figures."""

import numpy as np
import pytest

from qa.capability import capability, cpk_interval, probability_plot, tolerance_factor


def with_mean_and_deviation(mean, deviation, n=10):
    """Values of exactly this mean and standard deviation."""
    pattern = np.arange(n) - (n - 1) / 2
    return mean + deviation * pattern / pattern.std(ddof=1)


def test_indices():
    """NIST/SEMATECH e-Handbook 6.1.6: limits 8 and 20, mean 16, sd 2 give 1.0, 0.6667, 0.6667 and 1.3333."""
    values = with_mean_and_deviation(16, 2)

    assert capability(values, 8, 20).pp == pytest.approx(1.0, abs=5e-5)
    assert capability(values, 8, 20).ppk == pytest.approx(0.6667, abs=5e-5)
    assert capability(values, None, 20).ppk == pytest.approx(0.6667, abs=5e-5)
    assert capability(values, 8, None).ppk == pytest.approx(1.3333, abs=5e-5)


def test_cpk_interval():
    """Montgomery, Example 8.5: Cpk 1.33 from 20 values, 0.88 to 1.78 at 95 % (from memory)."""
    assert cpk_interval(1.33, 20) == pytest.approx((0.88, 1.78), abs=0.0051)


def test_ppk_interval_from_values():
    """The same example reached from values: Ppk 1.33 from 20 values, 0.88 to 1.78."""
    found = capability(with_mean_and_deviation(0, 1, n=20), -3.99, 3.99)

    assert found.ppk_interval == pytest.approx((0.88, 1.78), abs=0.0051)


def test_one_sided_factor():
    """e-Handbook 7.2.6.3: 43 values, 90 % at 99 %: 1.8740 by noncentral t (from memory)."""
    assert tolerance_factor(43, 0.90, 0.99, sided=1) == pytest.approx(1.8740, abs=6e-5)


def test_two_sided_factor_near_howe():
    """e-Handbook 7.2.6.3: Howe's approximation 2.2173 for the same lies within 0.3 % of the exact factor."""
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(2.2173, rel=0.003)


@pytest.mark.parametrize(
    ("n", "factors"),
    [
        (4, (5.37, 6.34, 8.22)),
        (5, (4.29, 5.08, 6.60)),
        (6, (3.73, 4.42, 5.76)),
        (7, (3.39, 4.02, 5.24)),
        (8, (3.16, 3.75, 4.89)),
        (9, (2.99, 3.55, 4.63)),
        (10, (2.86, 3.39, 4.44)),
    ],
)
def test_exact_two_sided_factors(n, factors):
    """Statistics for Environmental Engineers, Table 21.1: 95 % confidence, 90, 95 and 99 % of all parts."""
    computed = [tolerance_factor(n, coverage, 0.95) for coverage in (0.90, 0.95, 0.99)]

    assert computed == pytest.approx(factors, abs=0.0051)


def test_plotting_positions():
    """e-Handbook 1.3.3.22: the medians of the order statistics, as scipy's probplot has them."""
    from scipy import stats

    values = [3.0, 1.0, 7.0, 4.0, 9.0, 2.0]
    quantiles, ordered = stats.probplot(values, fit=False)

    assert probability_plot(values).quantiles == pytest.approx(quantiles)
    assert probability_plot(values).ordered == pytest.approx(ordered)
