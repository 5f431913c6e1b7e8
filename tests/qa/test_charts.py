"""Control charts: what they signal, what they refuse, and how they move with their values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import qa.charts
from qa.charts import (
    RULES,
    Signal,
    constants,
    cusum,
    ewma,
    individuals,
    moving_range_relative_error,
    run_rules,
    self_starting,
    self_starting_cusum,
)
from qa.charts.signals import (
    BEYOND_LIMITS,
    HIGH_SUM_BEYOND_LIMIT,
    LOW_SUM_BEYOND_LIMIT,
    RANGE_BEYOND_LIMIT,
)
from qa.errors import CannotSay

READINGS = st.lists(st.integers(-400, 400).map(lambda n: 18 + n / 100), min_size=3, max_size=30)
VARIED = READINGS.filter(lambda values: values[0] != values[1])
SHIFT = st.floats(-50, 50)
SCALE = st.floats(0.1, 30)


class TestRefusals:
    @pytest.mark.parametrize(
        "chart",
        [
            individuals,
            self_starting,
            self_starting_cusum,
            lambda values: ewma(values, 0, 1),
            lambda values: cusum(values, 0, 1),
            lambda values: run_rules(values, 0, 1),
        ],
        ids=["individuals", "self_starting", "self_starting_cusum", "ewma", "cusum", "run_rules"],
    )
    @pytest.mark.parametrize(
        "values",
        [
            [1, 2, float("nan"), 3],
            [1, 2, float("inf")],
            ["a", "b", "c"],
            [[1, 2], [3, 4]],
            [1e300, 0, 1],
            None,
        ],
        ids=["nan", "infinite", "text", "table", "huge", "nothing"],
    )
    def test_bad_values(self, chart, values):
        """Anything but finite numbers in one row is refused with a sentence."""
        with pytest.raises(CannotSay, match=r"\w+ \w+"):
            chart(values)

    @pytest.mark.parametrize("values", [[], [18.0]])
    def test_individuals_needs_two(self, values):
        """One value has no moving range."""
        with pytest.raises(CannotSay, match="2"):
            individuals(values)

    @pytest.mark.parametrize("values", [[], [18.0], [18.0, 18.1]])
    def test_self_starting_needs_three(self, values):
        """The first two values are only learnt from."""
        with pytest.raises(CannotSay, match="3"):
            self_starting(values)

    @pytest.mark.parametrize("chart", [individuals, self_starting, self_starting_cusum])
    def test_identical_values(self, chart):
        """Values without any spread cannot say what is unusual."""
        with pytest.raises(CannotSay, match="the same"):
            chart([0.1] * 7)

    @pytest.mark.parametrize(
        ("chart", "options"),
        [
            (ewma, {"sigma": 0}),
            (ewma, {"sigma": -1}),
            (ewma, {"sigma": 1, "weight": 0}),
            (ewma, {"sigma": 1, "weight": 1.1}),
            (ewma, {"sigma": 1, "width": 0}),
            (ewma, {"sigma": float("nan")}),
            (cusum, {"sigma": 0}),
            (cusum, {"sigma": 1, "slack": -0.1}),
            (cusum, {"sigma": 1, "decision": 0}),
            (cusum, {"sigma": 1, "head_start": -1}),
        ],
    )
    def test_bad_options(self, chart, options):
        """A spread of zero, a negative slack and the like are refused."""
        with pytest.raises(CannotSay):
            chart([1.0, 2.0, 3.0], target=2.0, **options)

    @pytest.mark.parametrize("n", [0, 1, 101, 2.5, True])
    def test_constants_range(self, n):
        """A subgroup has 2 to 100 values."""
        with pytest.raises(CannotSay, match="2 to 100"):
            constants(n)

    @pytest.mark.parametrize("baseline", [0, 1, 9, slice(0, 1), [5.0]])
    def test_baseline_too_short_or_long(self, baseline):
        """A baseline takes two or more of the values there are."""
        with pytest.raises(CannotSay, match="baseline"):
            individuals([1.0, 2.0, 3.0, 4.0], baseline=baseline)

    def test_unknown_rule(self):
        """A rule that is not there is named, with those that are."""
        with pytest.raises(CannotSay, match="nine in a row"):
            run_rules([1.0], 0, 1, rules=["ten in a row"])


def test_functions_are_not_hidden_by_modules():
    """Every name the package offers is a function, a class or the rules, never a module of that name."""
    for name in qa.charts.__all__:
        assert callable(getattr(qa.charts, name)) or name == "RULES"


class TestIndividuals:
    def test_baseline_sets_the_limits(self):
        """A later jump is judged by the first values and does not widen its own limits."""
        values = [10.0, 10.2, 9.9, 10.1, 10.0, 13.0]

        by_count = individuals(values, baseline=5)

        assert by_count.center == pytest.approx(10.04)
        assert by_count.signals == [Signal(5, BEYOND_LIMITS), Signal(5, RANGE_BEYOND_LIMIT)]
        assert individuals(values, baseline=slice(0, 5)).upper == by_count.upper
        assert individuals(values, baseline=values[:5]).upper == by_count.upper
        assert by_count.baseline == 5

    def test_shapes(self):
        """There is one moving range fewer than values."""
        assert individuals([1.0, 2.0, 4.0]).moving_ranges.tolist() == [1.0, 2.0]

    @given(VARIED, SHIFT, SCALE)
    def test_moves_with_its_values(self, values, shift, scale):
        """Shifting and scaling the values shifts and scales the chart."""
        plain = individuals(values)
        moved = individuals([shift + scale * value for value in values])

        assert moved.center == pytest.approx(shift + scale * plain.center, abs=1e-9)
        assert moved.sigma == pytest.approx(scale * plain.sigma, rel=1e-9)
        assert moved.upper - moved.lower == pytest.approx(scale * (plain.upper - plain.lower), rel=1e-9)

    def test_sigma_is_right_on_average(self):
        """Over many series the estimate averages to the true spread, with the stated relative error."""
        draws = np.random.default_rng(1).normal(50, 2, (4000, 8))

        sigmas = [individuals(row).sigma for row in draws]

        assert np.mean(sigmas) == pytest.approx(2, rel=0.02)
        assert np.std(sigmas) / 2 == pytest.approx(moving_range_relative_error(8), rel=0.05)


class TestEwma:
    def test_weight_one_is_a_chart_of_single_values(self):
        """With weight 1 nothing is smoothed and the limits are three sigma."""
        chart = ewma([1.0, -4.0, 2.0], target=0, sigma=1, weight=1)

        assert chart.smoothed.tolist() == [1.0, -4.0, 2.0]
        assert chart.upper.tolist() == [3.0, 3.0, 3.0]
        assert chart.signals == [Signal(1, BEYOND_LIMITS)]

    def test_limits_widen_to_the_steady_state(self):
        """The first limit is weight × width × sigma; later ones grow towards the steady state."""
        chart = ewma(np.zeros(80), target=0, sigma=2)
        steady = ewma(np.zeros(80), target=0, sigma=2, steady_state=True)

        assert chart.upper[0] == pytest.approx(0.2 * 3 * 2)
        assert (np.diff(chart.upper) >= 0).all()
        assert chart.upper[-1] == pytest.approx(steady.upper[0])
        assert np.ptp(steady.upper) == 0

    @given(READINGS, SHIFT, SCALE)
    def test_moves_with_its_values(self, values, shift, scale):
        """Shifting and scaling values, target and sigma together changes no signal."""
        plain = ewma(values, 18, 1)
        moved = ewma([shift + scale * value for value in values], shift + scale * 18, scale)

        assert moved.smoothed == pytest.approx(shift + scale * plain.smoothed, abs=1e-9)
        assert moved.upper == pytest.approx(shift + scale * plain.upper, abs=1e-9)


class TestCusum:
    def test_by_hand(self):
        """Sums grow by what exceeds the slack and never go below zero."""
        chart = cusum([1.0, 2.0, -3.0, 0.0], target=0, sigma=1, decision=1.9)

        assert chart.high.tolist() == [0.5, 2.0, 0.0, 0.0]
        assert chart.low.tolist() == [0.0, 0.0, 2.5, 2.0]
        assert chart.signals == [
            Signal(1, HIGH_SUM_BEYOND_LIMIT),
            Signal(2, LOW_SUM_BEYOND_LIMIT),
            Signal(3, LOW_SUM_BEYOND_LIMIT),
        ]

    def test_onset(self):
        """The onset is the first value after the sum was last at rest."""
        chart = cusum([0.0, 0.0, -1.0, 2.0, 2.0, 2.0, 2.0], target=0, sigma=1)

        assert chart.signals == [Signal(6, HIGH_SUM_BEYOND_LIMIT)]
        assert chart.onset(chart.signals[0]) == 3

    def test_head_start(self):
        """A head start shows a process that is off target from the beginning earlier."""
        plain = cusum([1.5] * 8, target=0, sigma=1)
        head = cusum([1.5] * 8, target=0, sigma=1, head_start=2.5)

        assert plain.signals[0].index == 5
        assert head.signals[0].index == 2
        assert head.onset(head.signals[0]) == 0

    @given(READINGS)
    def test_mirror(self, values):
        """Mirroring the values about the target swaps the two sums."""
        plain = cusum(values, 18, 0.5)
        mirrored = cusum([36 - value for value in values], 18, 0.5)

        assert mirrored.high == pytest.approx(plain.low, abs=1e-9)
        assert mirrored.low == pytest.approx(plain.high, abs=1e-9)


class TestSelfStarting:
    def test_third_value_by_hand(self):
        """From 0 and 2 (mean 1, s = √2) the third value 1 + √3 gives t = 1 on one degree: p = 3/4."""
        chart = self_starting([0.0, 2.0, 1 + 3**0.5])

        assert chart.start == 2
        assert chart.index == [2]
        assert np.isnan(chart.q[:2]).all()
        assert chart.q[2] == pytest.approx(0.6744897501960817)

    def test_against_scipy_distributions(self):
        """Scores equal the definition written out with scipy's t and normal distributions."""
        from scipy import stats

        values = np.random.default_rng(3).normal(18, 0.1, 12)
        expected = [
            stats.norm.ppf(
                stats.t.cdf(
                    np.sqrt((r - 1) / r)
                    * (values[r - 1] - values[: r - 1].mean())
                    / values[: r - 1].std(ddof=1),
                    r - 2,
                )
            )
            for r in range(3, 13)
        ]

        assert self_starting(values).q[2:] == pytest.approx(expected, rel=1e-9)

    def test_scores_are_standard_normal(self):
        """Over many series of one process the scores have mean 0, sd 1 and no correlation."""
        draws = np.random.default_rng(4).normal(-3, 7, (3000, 8))

        scores = np.array([self_starting(row).q[2:] for row in draws])

        assert scores.mean(axis=0) == pytest.approx(np.zeros(6), abs=0.06)
        assert scores.std(axis=0) == pytest.approx(np.ones(6), abs=0.05)
        assert np.abs(np.corrcoef(scores.T) - np.eye(6)).max() < 0.06

    def test_equal_first_values_put_off_the_start(self):
        """While the step of the instrument hides the spread nothing is scored, and nothing is infinite."""
        chart = self_starting([18.0, 18.0, 18.0, 18.01, 18.0, 18.02])

        assert chart.start == 4
        assert np.isnan(chart.q[:4]).all()
        assert np.isfinite(chart.q[4:]).all()

    def test_far_value_stays_finite(self):
        """A value absurdly far away gets a large finite score and a signal."""
        chart = self_starting([*np.random.default_rng(5).normal(0, 1, 200), -1e90])

        assert chart.q[-1] == pytest.approx(-37.5, abs=0.5)
        assert chart.signals[-1] == Signal(200, BEYOND_LIMITS)

    @given(VARIED, SHIFT, SCALE)
    def test_unmoved_by_shift_and_scale(self, values, shift, scale):
        """Scores depend neither on where the values lie nor on their unit."""
        moved = self_starting([shift + scale * value for value in values])

        assert moved.q[2:] == pytest.approx(self_starting(values).q[2:], abs=1e-5)

    @given(VARIED)
    def test_scores_do_not_change_later(self, values):
        """A value's score depends on earlier values alone."""
        assert self_starting([*values, 99.0]).q[2:-1] == pytest.approx(self_starting(values).q[2:])

    def test_cusum_finds_a_shift_the_single_scores_miss(self):
        """A lasting shift of 1.7 sigma after ten builds is found, with its beginning."""
        values = [
            0.1,
            -0.9,
            0.6,
            1.1,
            -0.4,
            -1.2,
            0.3,
            0.9,
            -0.2,
            -0.3,
            *([1.7, 1.2, 2.4, 1.9, 1.1, 2.2, 1.8]),
        ]

        chart = self_starting_cusum(values, decision=4)

        assert self_starting(values).signals == []
        assert {signal.rule for signal in chart.signals} == {HIGH_SUM_BEYOND_LIMIT}
        assert chart.onset(chart.signals[0]) == 10
        assert chart.high[:2].tolist() == [0.0, 0.0]


class TestRunRules:
    PATTERNS = (
        (RULES[0], [0.5, -3.1], 1),
        (RULES[1], [-0.1, *[0.5, 0.7, 0.2] * 3], 9),
        (RULES[2], [0.3, -0.5, -0.3, 0.1, 0.2, 0.6, 0.8], 6),
        (RULES[3], [0.2, -0.2] * 7, 13),
        (RULES[4], [0.0, 2.1, 0.3, 2.2], 3),
        (RULES[5], [0.0, -1.1, -1.2, 0.9, -1.4, -1.3], 5),
        (RULES[6], [1.5, *[0.9, -0.4, 0.0, -0.9, 0.1] * 3], 15),
        (RULES[7], [0.0, 1.2, -1.2, -1.5, 1.1, -1.4, 1.3, 1.2, -1.1], 8),
    )

    @pytest.mark.parametrize(("rule", "z", "index"), PATTERNS, ids=[rule for rule, _, _ in PATTERNS])
    def test_completing_point(self, rule, z, index):
        """Each pattern is signalled at its completing point, not one sooner, and mirrored too."""
        values = [18 + 0.05 * score for score in z]

        assert run_rules(values, 18, 0.05, rules=[rule]) == [Signal(index, rule)]
        assert run_rules(values[:index], 18, 0.05, rules=[rule]) == []
        assert run_rules([36 - value for value in values], 18, 0.05, rules=[rule]) == [Signal(index, rule)]

    def test_all_patterns_are_covered(self):
        """The table above names every rule."""
        assert tuple(rule for rule, _, _ in self.PATTERNS) == RULES

    def test_ties_neither_rise_nor_take_sides(self):
        """Equal neighbours break a rise, and a value on the centre line breaks a run on one side."""
        assert run_rules([1, 2, 3, 3, 4, 5, 6.0], 3.5, 9, rules=[RULES[2]]) == []
        assert run_rules([1.0] * 8 + [0.0] + [1.0] * 8, 0, 9, rules=[RULES[1]]) == []

    def test_point_back_inside_is_not_signalled(self):
        """Two beyond two sigma signal at the second; the point back inside does not repeat the signal."""
        assert run_rules([2.5, 2.5, 0.0], 0, 1, rules=[RULES[4]]) == [Signal(1, RULES[4])]

    def test_in_order_of_points(self):
        """Signals of several rules come in the order of the points."""
        found = run_rules([*[0.5] * 9, 3.5], 0, 1)

        assert [signal.index for signal in found] == sorted(signal.index for signal in found)
        assert {signal.rule for signal in found} == {RULES[0], RULES[1]}

    def test_no_values_no_signals(self):
        """An empty log has no patterns."""
        assert run_rules([], 0, 1) == []


class TestConstants:
    @pytest.mark.parametrize("n", range(2, 26))
    def test_range_constants_by_a_second_integral(self, n):
        """d2 equals the one-dimensional integral of 1 - Φ^n - (1-Φ)^n."""
        from scipy import integrate, stats

        def exceeds(x):
            below = stats.norm.cdf(x)
            return 1 - below**n - (1 - below) ** n

        expected = 2 * integrate.quad(exceeds, 0, 9)[0]
        assert constants(n).d2 == pytest.approx(expected, abs=1e-9)

    def test_closed_forms(self):
        """For two values d2 = 2/√π, d3 = √(2 - 4/π), c4 = √(2/π); for three d2 = 3/√π."""
        pair = constants(2)

        assert pair.d2 == pytest.approx(2 / np.sqrt(np.pi), abs=1e-12)
        assert pair.d3 == pytest.approx(np.sqrt(2 - 4 / np.pi), abs=1e-12)
        assert pair.c4 == pytest.approx(np.sqrt(2 / np.pi), abs=1e-12)
        assert constants(3).d2 == pytest.approx(3 / np.sqrt(np.pi), abs=1e-12)
