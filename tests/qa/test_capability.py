"""Capability, tolerance intervals and normality: coverage, refusals, and how they move with their values."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa.capability import (
    anderson_darling,
    capability,
    cpk_interval,
    honest_tolerance,
    probability_plot,
    tolerance_factor,
    tolerance_interval,
)
from qa.errors import CannotSay

BUILDS = [18.02, 17.97, 18.05, 18.01, 17.99, 18.04, 18.00, 17.96]
VARIED = st.lists(st.integers(-40, 40).map(lambda n: 18 + n / 100), min_size=5, max_size=30).filter(
    lambda values: len(set(values)) > 1
)
SHIFT = st.floats(-50, 50)
SCALE = st.floats(0.1, 30)


class TestRefusals:
    @pytest.mark.parametrize("n", range(5))
    def test_too_few(self, n):
        """Below five values there is no honest interval."""
        with pytest.raises(CannotSay, match="5"):
            capability(BUILDS[:n], 17.85, 18.15)
        with pytest.raises(CannotSay, match="5"):
            cpk_interval(1.33, n)

    @pytest.mark.parametrize(
        ("lower", "upper", "why"),
        [
            (None, None, "limit"),
            (18.15, 17.85, "below"),
            (18.0, 18.0, "below"),
            (float("nan"), 18.1, "lower limit"),
            (17.9, float("inf"), "upper limit"),
        ],
    )
    def test_bad_limits(self, lower, upper, why):
        """Limits missing, reversed or not finite are refused."""
        with pytest.raises(CannotSay, match=why):
            capability(BUILDS, lower, upper)

    @pytest.mark.parametrize(
        "question",
        [
            lambda values: capability(values, 17.85, 18.15),
            tolerance_interval,
            lambda values: honest_tolerance(values, 18.0),
            anderson_darling,
            probability_plot,
        ],
        ids=["capability", "tolerance_interval", "honest_tolerance", "anderson_darling", "probability_plot"],
    )
    def test_bad_values(self, question):
        """Identical values, a missing value and a single value are refused, each with its reason."""
        with pytest.raises(CannotSay, match="the same"):
            question([0.1] * 9)
        with pytest.raises(CannotSay, match="nan"):
            question([*BUILDS, float("nan")])
        with pytest.raises(CannotSay, match="1"):
            question([18.0])

    @pytest.mark.parametrize("confidence", [0, 1, 95, -0.1, float("nan")])
    def test_confidence_is_a_share(self, confidence):
        """A confidence in per cent, or certainty, is refused."""
        with pytest.raises(CannotSay, match="confidence"):
            capability(BUILDS, 17.85, 18.15, confidence)

    @pytest.mark.parametrize(("n", "sided"), [(1, 2), (0, 1), (10, 3), (2.5, 2)])
    def test_tolerance_factor(self, n, sided):
        """A factor needs two values, and has one or two sides."""
        with pytest.raises(CannotSay):
            tolerance_factor(n, 0.95, 0.95, sided)


class TestCapability:
    def test_by_hand(self):
        """Indices follow from mean, moving range and standard deviation."""
        found = capability(BUILDS, 17.85, 18.15)

        within = np.abs(np.diff(BUILDS)).mean() / 1.128
        assert found.cp == pytest.approx(0.30 / (6 * within))
        assert found.cpk == pytest.approx(min(18.15 - found.mean, found.mean - 17.85) / (3 * within))
        assert found.pp == pytest.approx(0.30 / (6 * np.std(BUILDS, ddof=1)))
        assert found.n == 8

    def test_one_limit(self):
        """With one limit only the index towards it is there."""
        found = capability(BUILDS, None, 18.15)

        assert found.cp is found.pp is found.cp_interval is found.pp_interval is None
        assert found.cpk == pytest.approx((18.15 - found.mean) / (3 * found.sigma_within))
        assert found.ppk_interval[0] < found.ppk < found.ppk_interval[1]

    def test_off_the_limits(self):
        """A mean outside the limits has a negative index, and an interval all the same."""
        found = capability(BUILDS, 18.10, 18.20)

        assert found.cpk < 0
        assert np.isfinite(found.cpk_interval).all()

    def test_pp_interval_is_chi_square(self):
        """The interval of Pp inverts the chi-square interval of a standard deviation."""
        from scipy import stats

        found = capability(BUILDS, 17.85, 18.15)

        low, high = (found.pp * np.sqrt(stats.chi2.ppf(p, 7) / 7) for p in (0.025, 0.975))
        assert found.pp_interval == pytest.approx((low, high))

    def test_one_sided_ppk_agrees_with_noncentral_t(self):
        """From 30 values Bissell's interval lies near the exact one of one limit."""
        from scipy import optimize, stats

        values = np.random.default_rng(2).normal(0, 1, 30)
        found = capability(values, None, 3.0)

        t = 3 * found.ppk * np.sqrt(30)
        exact = [
            optimize.brentq(lambda d, p=p: stats.nct.cdf(t, 29, d) - p, t / 3, 2 * t) / (3 * np.sqrt(30))
            for p in (0.975, 0.025)
        ]
        assert found.ppk_interval == pytest.approx(exact, abs=0.03)

    @given(VARIED, SHIFT, SCALE)
    def test_no_unit(self, values, shift, scale):
        """Indices and intervals do not depend on where the values lie nor on their unit."""
        plain = capability(values, 17.5, 18.6)
        moved = capability([shift + scale * v for v in values], shift + scale * 17.5, shift + scale * 18.6)

        for name in ("cp", "cpk", "pp", "ppk", "cp_interval", "cpk_interval", "pp_interval", "ppk_interval"):
            assert getattr(moved, name) == pytest.approx(getattr(plain, name), rel=1e-6, abs=1e-6)

    @given(VARIED)
    def test_index_within_its_interval(self, values):
        """Every index lies inside its interval, and Cpk is at most Cp."""
        found = capability(values, 17.5, 18.6)

        for name in ("cp", "cpk", "pp", "ppk"):
            low, high = getattr(found, f"{name}_interval")
            assert low <= getattr(found, name) <= high
        assert found.cpk <= found.cp + 1e-12

    @pytest.mark.parametrize("n", [5, 12, 30])
    @pytest.mark.parametrize("off", [0.0, 1.0], ids=["centred", "one-sigma-off"])
    def test_intervals_cover(self, n, off):
        """Of 95 % intervals from simulated builds 93.5 to 98 % hold the true index."""
        rng = np.random.default_rng(100 + n)
        runs = [capability(rng.normal(off, 1, n), -4, 4) for _ in range(2000)]

        def covered(name, true):
            return np.mean([r[0] <= true <= r[1] for r in (getattr(run, name) for run in runs)])

        for name in ("cp_interval", "pp_interval"):
            assert 0.935 < covered(name, 4 / 3) < 0.98
        for name in ("cpk_interval", "ppk_interval"):
            assert 0.935 < covered(name, (4 - off) / 3) < 0.98


class TestTolerance:
    @pytest.mark.parametrize(("coverage", "confidence"), [(0.9, 0.95), (0.95, 0.9)])
    def test_promise_is_kept(self, coverage, confidence):
        """In simulated sets of six the interval covers the promised share as often as promised."""
        from scipy import stats

        draws = np.random.default_rng(9).normal(0, 1, (20_000, 6))
        k = tolerance_factor(6, coverage, confidence)
        mean, half = draws.mean(axis=1), k * draws.std(axis=1, ddof=1)

        kept = (stats.norm.cdf(mean + half) - stats.norm.cdf(mean - half) >= coverage).mean()
        assert kept == pytest.approx(confidence, abs=0.007)

    def test_one_sided_promise_is_kept(self):
        """The one-sided factor keeps its promise in simulated sets of six."""
        from scipy import stats

        draws = np.random.default_rng(10).normal(0, 1, (20_000, 6))
        limit = draws.mean(axis=1) + tolerance_factor(6, 0.9, 0.95, sided=1) * draws.std(axis=1, ddof=1)

        assert (stats.norm.cdf(limit) >= 0.9).mean() == pytest.approx(0.95, abs=0.007)

    def test_many_values_know_the_spread(self):
        """With very many values the factors come down to the normal quantiles."""
        assert tolerance_factor(10**7, 0.95, 0.95) == pytest.approx(1.95996, abs=2e-3)
        assert tolerance_factor(10**7, 0.95, 0.95, sided=1) == pytest.approx(1.64485, abs=2e-3)

    @settings(max_examples=50)
    @given(st.integers(2, 60), st.sampled_from([0.5, 0.9, 0.95, 0.99]), st.sampled_from([0.5, 0.9, 0.99]))
    def test_fewer_values_need_a_wider_factor(self, n, coverage, confidence):
        """One value more never widens the factor; more confidence never narrows it."""
        factor = tolerance_factor(n, coverage, confidence)

        assert tolerance_factor(n + 1, coverage, confidence) < factor
        assert tolerance_factor(n, coverage, (1 + confidence) / 2) > factor

    def test_honest_tolerance_takes_in_the_interval(self):
        """The promise is the farther end of the interval, and names what centring would save."""
        promise = honest_tolerance(BUILDS, 17.9)

        assert promise.plus_minus == pytest.approx(promise.interval.high - 17.9)
        assert promise.offset == pytest.approx(np.mean(BUILDS) - 17.9)
        assert honest_tolerance(BUILDS, 18.1).plus_minus == pytest.approx(18.1 - promise.interval.low)


class TestNormality:
    @pytest.mark.parametrize("n", [5, 12, 60])
    @pytest.mark.parametrize("power", [1, 2, 3])
    def test_against_statsmodels(self, n, power):
        """Statistic and p agree with an independent library, from normal to very skew values."""
        from statsmodels.stats.diagnostic import normal_ad

        values = np.random.default_rng(n).normal(0, 1, n) ** power

        found = anderson_darling(values)
        statistic, p = normal_ad(values)
        assert found.statistic == pytest.approx(float(statistic), rel=1e-6)
        assert found.p == pytest.approx(float(p), rel=1e-5)

    def test_wrong_alarms(self):
        """Normal values fall below p = 0.05 about one time in twenty."""
        draws = np.random.default_rng(12).normal(0, 1, (3000, 15))

        assert np.mean([anderson_darling(row).p < 0.05 for row in draws]) == pytest.approx(0.05, abs=0.012)

    def test_far_tail(self):
        """One value absurdly far out among many gives a p near zero, not a rising curve."""
        values = [*np.random.default_rng(13).normal(0, 1, 2000), *([1e6] * 1000)]

        assert 0 < anderson_darling(values).p < 1e-15

    def test_plot_points(self):
        """Quantiles are symmetric and as many as values; normal values lie near a line."""
        plot = probability_plot(np.random.default_rng(14).normal(3, 2, 40))

        assert plot.quantiles == pytest.approx(-plot.quantiles[::-1])
        assert (np.diff(plot.ordered) >= 0).all()
        assert plot.r > 0.97
