"""Trend and change point: coverage, refusals, and how they move with their values."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.errors import CannotSay
from qa.trend import change_point, mann_kendall, straight_line, summary, theil_sen

SERIES = st.lists(st.integers(-400, 400).map(lambda n: 18 + n / 100), min_size=5, max_size=25)
SHIFT = st.floats(-50, 50)
SCALE = st.floats(0.1, 30)


class TestRefusals:
    @pytest.mark.parametrize(
        "question",
        [
            mann_kendall,
            change_point,
            lambda y: theil_sen(range(len(y)), y),
            lambda y: straight_line(range(len(y)), y),
        ],
        ids=["mann_kendall", "change_point", "theil_sen", "straight_line"],
    )
    @pytest.mark.parametrize("y", [[], [1.0], [1.0, 2.0], [1.0, 2.0, float("nan"), 3.0, 4.0]])
    def test_too_few_or_missing(self, question, y):
        """None, one or two values and a missing one are refused with a sentence."""
        with pytest.raises(CannotSay, match=r"\w+ \w+"):
            question(y)

    @pytest.mark.parametrize("line", [theil_sen, straight_line])
    def test_bad_pairs(self, line):
        """Lengths that differ, or builds all on one day, are refused."""
        with pytest.raises(CannotSay, match="x has 3 values and y 4"):
            line([1, 2, 3], [1, 2, 3, 4])
        with pytest.raises(CannotSay, match="nothing to have a trend over"):
            line([2, 2, 2], [1, 2, 3])

    def test_nothing_changes(self):
        """Identical values show no trend, p = 1; they have no change point and no autocorrelation."""
        assert mann_kendall([0.1] * 6).p == 1
        assert mann_kendall([0.1] * 20).z == 0
        assert theil_sen(range(6), [0.1] * 6).slope == 0
        assert summary([0.1] * 6).lag1 is None
        assert summary([0.1] * 6).sd == 0
        with pytest.raises(CannotSay, match="the same"):
            change_point([0.1] * 6)

    def test_summary_needs_two(self):
        """One value has no spread."""
        with pytest.raises(CannotSay):
            summary([1.0])


class TestTheilSen:
    def test_line_without_noise(self):
        """Values on a line give its slope and intercept."""
        found = theil_sen([1, 2, 4, 8, 9], [5, 7, 11, 19, 21])

        assert (found.slope, found.low, found.high, found.intercept) == pytest.approx((2, 2, 2, 3))

    @pytest.mark.parametrize("n", [3, 4])
    def test_too_few_for_an_interval(self, n):
        """Three or four values cannot bound a slope at 95 %; four can at 90 %."""
        x, y = [1.0, 2.0, 3.0, 4.0][:n], [1.0, 2.5, 2.8, 4.4][:n]

        assert (theil_sen(x, y).low, theil_sen(x, y).high) == (-np.inf, np.inf)
        assert np.isfinite(theil_sen(x, y, confidence=0.90).low) == (n == 4)

    def test_five_values_span_all_slopes(self):
        """With five values the 95 % interval runs from the least to the greatest slope of all pairs."""
        x, y = np.arange(5.0), np.array([0.0, 1.5, 1.7, 3.9, 4.0])
        slopes = [(y[j] - y[i]) / (x[j] - x[i]) for i in range(5) for j in range(i + 1, 5)]

        assert theil_sen(x, y).low == min(slopes)
        assert theil_sen(x, y).high == max(slopes)

    @pytest.mark.parametrize("n", [5, 7, 9, 14])
    def test_interval_covers(self, n):
        """Of 95 % intervals from simulated builds 93.5 % or more hold the true slope."""
        rng, x = np.random.default_rng(n), np.arange(n)
        runs = [theil_sen(x, 0.3 * x + rng.normal(size=n)) for _ in range(1200)]

        assert np.mean([run.low <= 0.3 <= run.high for run in runs]) >= 0.935

    @given(SERIES, SHIFT, SCALE)
    def test_moves_with_its_values(self, y, shift, scale):
        """Shifting the values changes no slope; scaling them scales it; the slope lies in its interval."""
        x = np.arange(len(y))
        plain, moved = theil_sen(x, y), theil_sen(x, [shift + scale * value for value in y])

        assert moved.slope == pytest.approx(scale * plain.slope, abs=1e-9)
        assert plain.low <= plain.slope <= plain.high


class TestMannKendall:
    @pytest.mark.parametrize("n", [3, 4, 5, 6])
    def test_exact_by_counting(self, n):
        """Without ties p is the share of all orders with an S at least as large either way."""
        scores = np.array([mann_kendall(order).s for order in permutations(range(n))])
        for order in list(permutations(range(n)))[:: max(1, len(scores) // 24)]:
            found = mann_kendall(order)
            assert found.p == pytest.approx((np.abs(scores) >= abs(found.s)).mean())

    @pytest.mark.parametrize("y", [[1, 2, 2, 3, 3, 3, 5], [4, 4, 4, 4, 3, 3, 2, 2, 1, 1, 1, 0]])
    def test_ties_by_definition(self, y):
        """With ties the variance shrinks by t(t-1)(2t+5)/18 for each group of t equal values."""
        n, (_, ties) = len(y), np.unique(y, return_counts=True)
        variance = (n * (n - 1) * (2 * n + 5) - sum(t * (t - 1) * (2 * t + 5) for t in ties)) / 18
        found = mann_kendall(y)

        assert found.z == pytest.approx((found.s - np.sign(found.s)) / np.sqrt(variance))
        assert 0 < found.p < 1

    @given(SERIES)
    def test_mirror(self, y):
        """Reading the builds backwards turns S and z round and leaves p."""
        found, turned = mann_kendall(y), mann_kendall(y[::-1])

        assert (turned.s, turned.z, turned.p) == pytest.approx((-found.s, -found.z, found.p))
        assert 0 <= found.p <= 1

    @pytest.mark.parametrize("n", [6, 20])
    def test_wrong_alarms(self, n):
        """Values without trend fall below p = 0.05 one time in twenty or less."""
        rng = np.random.default_rng(n)

        assert np.mean([mann_kendall(rng.normal(size=n)).p < 0.05 for _ in range(1500)]) < 0.065


class TestChangePoint:
    def test_clear_step(self):
        """A step clear of the noise is placed exactly, with the means on both sides."""
        found = change_point([18.01, 17.99, 18.00, 18.02, 18.21, 18.20, 18.22, 18.19])

        assert (found.low, found.index, found.high) == (4, 4, 4)
        assert (found.before, found.after) == pytest.approx((18.005, 18.205))
        assert found.p < 0.05

    def test_perfect_step(self):
        """A step without any noise, as a coarse instrument shows it, is placed exactly and stays finite."""
        found = change_point([0, 0, 0, 1, 1, 1])

        assert (found.low, found.index, found.high) == (3, 3, 3)
        assert found.p == pytest.approx(2 / 20, abs=0.02)
        assert np.isfinite(found.probabilities).all()

    @pytest.mark.parametrize("n", [6, 15])
    def test_wrong_alarms(self, n):
        """Values without a step fall below p = 0.05 one time in twenty or less."""
        rng = np.random.default_rng(n)

        assert np.mean([change_point(rng.normal(size=n)).p <= 0.05 for _ in range(400)]) < 0.085

    def test_span_covers(self):
        """A step anywhere in twenty builds lies in its 90 % span 87 times of 100 or more."""
        rng, hits = np.random.default_rng(17), []
        for _ in range(300):
            y, first = rng.normal(size=20), int(rng.integers(1, 20))
            y[first:] += 1.5
            found = change_point(y, confidence=0.9)
            hits.append(found.low <= first <= found.high)

        assert np.mean(hits) >= 0.87

    @given(SERIES.filter(lambda y: len(set(y)) > 1), SHIFT, SCALE)
    def test_moves_with_its_values(self, y, shift, scale):
        """Neither a shift nor a change of unit moves the probabilities, and they add up to 1."""
        plain, moved = change_point(y), change_point([shift + scale * value for value in y])

        assert moved.probabilities == pytest.approx(plain.probabilities, abs=1e-6)
        assert plain.probabilities.sum() == pytest.approx(1)
        assert plain.low <= plain.index <= plain.high

    def test_same_answer_twice(self):
        """The shuffles start from a fixed seed, so a page reloaded shows the same p."""
        y = np.random.default_rng(18).normal(size=12)

        assert change_point(y).p == change_point(y).p


class TestStraightLineAndSummary:
    def test_against_statsmodels(self):
        """Slope, intercept and errors equal an independent least-squares fit."""
        import statsmodels.api as sm

        rng = np.random.default_rng(19)
        x, y = rng.normal(size=12), rng.normal(size=12)
        fit = sm.OLS(y, sm.add_constant(x)).fit()
        found = straight_line(x, y)

        assert [found.intercept, found.slope] == pytest.approx(fit.params)
        assert [found.intercept_error, found.slope_error] == pytest.approx(fit.bse)
        assert found.residual_sd == pytest.approx(np.sqrt(fit.scale))

    @given(SERIES, SCALE)
    def test_summary_by_numpy(self, values, scale):
        """Mean and standard deviation agree with numpy's."""
        found = summary([scale * value for value in values])

        assert found.mean == pytest.approx(scale * np.mean(values))
        assert found.sd == pytest.approx(scale * np.std(values, ddof=1), abs=1e-9)
