"""Repeatability studies: truth recovered from simulated studies, a second method, and what is refused."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa.errors import CannotSay
from qa.repeatability import (
    average_and_range,
    compliance_study,
    crossed_study,
    one_person_study,
    reference_study,
)

STUDIES = [crossed_study, average_and_range]
NAMES = ("repeatability", "reproducibility", "interaction", "gauge", "part", "total")


def as_frame(values):
    """Readings of shape (parts, appraisers, trials) as part, appraiser, trial, value."""
    parts, people, trials = np.indices(values.shape)
    return pd.DataFrame(
        {"part": parts.ravel(), "appraiser": people.ravel(), "trial": trials.ravel(), "value": values.ravel()}
    )


def simulated(rng, shape=(6, 3, 3), part=1.0, person=0.4, crossed=0.0, repeat=0.2):
    """Readings of a study whose standard deviations are known."""
    parts, people, _ = shape
    return (
        18
        + rng.normal(0, part, (parts, 1, 1))
        + rng.normal(0, person, (1, people, 1))
        + rng.normal(0, crossed, (parts, people, 1))
        + rng.normal(0, repeat, shape)
    )


@pytest.fixture
def frame():
    """A clean study of four parts, two people, three trials."""
    return as_frame(simulated(np.random.default_rng(20), (4, 2, 3)))


class TestRefusals:
    @pytest.mark.parametrize("study", STUDIES)
    def test_missing_column(self, study, frame):
        """A column missing is named."""
        with pytest.raises(CannotSay, match="'appraiser'"):
            study(frame.drop(columns="appraiser"))

    @pytest.mark.parametrize("study", STUDIES)
    def test_missing_reading(self, study, frame):
        """A cell with fewer trials is named by part and appraiser."""
        gap = frame[~((frame["part"] == 2) & (frame["appraiser"] == 1) & (frame["trial"] == 0))]

        with pytest.raises(CannotSay, match="part 2, appraiser 1 has 2 of 3 trials"):
            study(gap)

    @pytest.mark.parametrize("study", STUDIES)
    def test_missing_cell(self, study, frame):
        """A part that one appraiser never read is named."""
        gap = frame[~((frame["part"] == 3) & (frame["appraiser"] == 0))]

        with pytest.raises(CannotSay, match="part 3, appraiser 0 has 0 of 3 trials"):
            study(gap)

    @pytest.mark.parametrize("value", [np.nan, np.inf, None, "18,02", 1e300])
    def test_bad_value(self, frame, value):
        """A value that is no finite number is placed."""
        frame["value"] = frame["value"].astype(object)
        frame.loc[4, "value"] = value

        with pytest.raises(CannotSay, match="part 0, appraiser 1, trial 1"):
            crossed_study(frame)

    def test_trial_twice(self, frame):
        """A trial given twice is placed."""
        with pytest.raises(CannotSay, match="part 0, appraiser 0, trial 1 is given twice"):
            crossed_study(pd.concat([frame, frame.iloc[[1]]]))

    def test_blank_label(self, frame):
        """A row without its part is named by number."""
        frame["part"] = frame["part"].astype(object)
        frame.loc[7, "part"] = None

        with pytest.raises(CannotSay, match="row 8 has no part"):
            crossed_study(frame)

    @pytest.mark.parametrize(
        ("shape", "why"), [((1, 2, 2), "parts"), ((2, 1, 2), "appraisers"), ((2, 2, 1), "trials")]
    )
    @pytest.mark.parametrize("study", STUDIES)
    def test_too_small(self, study, shape, why):
        """A crossed study takes two of everything."""
        with pytest.raises(CannotSay, match=f"2 or more {why}"):
            study(as_frame(simulated(np.random.default_rng(21), shape)))

    @pytest.mark.parametrize("study", STUDIES)
    def test_repeats_all_alike(self, study):
        """Repeats that never differ, though parts do, cannot show the repeatability."""
        with pytest.raises(CannotSay, match="step"):
            study(as_frame(np.repeat(simulated(np.random.default_rng(22), (4, 2, 1)), 3, axis=2)))

    @pytest.mark.parametrize("study", [*STUDIES, one_person_study])
    def test_no_readings(self, study, frame):
        """An empty study is refused."""
        with pytest.raises(CannotSay, match="no readings"):
            study(frame.iloc[:0])

    @pytest.mark.parametrize("tolerance", [0, -0.3, float("nan")])
    def test_bad_tolerance(self, frame, tolerance):
        """A tolerance has a width."""
        with pytest.raises(CannotSay, match="tolerance"):
            crossed_study(frame, tolerance=tolerance)


class TestCrossedStudy:
    def test_against_statsmodels(self):
        """Sums of squares and the test of the interaction equal an independent library's."""
        import statsmodels.api as sm
        from statsmodels.formula.api import ols

        frame = as_frame(simulated(np.random.default_rng(23), (5, 3, 2), crossed=0.3))
        other = sm.stats.anova_lm(ols("value ~ C(appraiser) * C(part)", frame).fit())
        table = {row.source: row for row in crossed_study(frame).table}

        for name, term in (
            ("appraiser", "C(appraiser)"),
            ("part", "C(part)"),
            ("interaction", "C(appraiser):C(part)"),
            ("repeatability", "Residual"),
        ):
            assert table[name].ss == pytest.approx(other.loc[term, "sum_sq"])
            assert table[name].df == other.loc[term, "df"]
        assert table["interaction"].p == pytest.approx(other.loc["C(appraiser):C(part)", "PR(>F)"])

    def test_sums(self, frame):
        """Gauge and total are sums of variances; shares of variance add up to 100."""
        study = crossed_study(frame, tolerance=0.3)
        parts = {component.name: component for component in study.components}

        assert study.gauge**2 == pytest.approx(
            study.repeatability**2 + study.reproducibility**2 + study.interaction**2
        )
        assert study.total**2 == pytest.approx(study.gauge**2 + study.part**2)
        assert parts["gauge"].of_variance + parts["part"].of_variance == pytest.approx(100)
        assert parts["gauge"].of_tolerance == pytest.approx(600 * study.gauge / 0.3)
        assert tuple(parts) == ("repeatability", "reproducibility", "interaction", "part", "gauge", "total")

    def test_order_of_rows_does_not_matter(self, frame):
        """Shuffled rows and text labels give the same study."""
        shuffled = frame.sample(frac=1, random_state=1).astype({"part": str, "appraiser": str})

        for name in NAMES:
            assert getattr(crossed_study(shuffled), name) == pytest.approx(
                getattr(crossed_study(frame), name)
            )

    def test_interaction_kept_when_it_shows(self):
        """An interaction far above the repeats is kept, and parts are then tested over it."""
        study = crossed_study(as_frame(simulated(np.random.default_rng(24), crossed=0.8)))
        table = {row.source: row for row in study.table}

        assert study.interaction > 0.4
        assert table["part"].over == "interaction"
        assert "pooled repeatability" not in table
        assert study.notes == ()

    def test_negative_variance_is_zero_and_noted(self):
        """Appraisers more alike than repeats allow have no variance of their own, and a note says so."""
        values = simulated(np.random.default_rng(25), person=0)
        values -= values.mean(axis=(0, 2), keepdims=True)

        study = crossed_study(as_frame(values))

        assert study.reproducibility == 0
        assert any("reproducibility" in note for note in study.notes)

    def test_parts_all_alike(self):
        """Parts that do not differ leave one category, never none."""
        study = crossed_study(as_frame(simulated(np.random.default_rng(26), part=0, person=0)))

        assert study.distinct_categories == 1

    def test_intervals_cover(self):
        """Of 90 % intervals from simulated studies 84 to 97 % hold the true standard deviation."""
        rng, truth = np.random.default_rng(27), {"repeatability": 0.2, "reproducibility": 0.4, "part": 1.0}
        truth |= {"gauge": np.hypot(0.2, 0.4), "total": np.sqrt(0.2**2 + 0.4**2 + 1)}
        hits = {name: [] for name in truth}
        for _ in range(250):
            study = crossed_study(as_frame(simulated(rng)), confidence=0.9)
            for part in study.components:
                if part.name in truth:
                    hits[part.name].append(part.low <= truth[part.name] <= part.high)

        assert all(0.84 <= np.mean(found) <= 0.97 for found in hits.values()), {
            name: np.mean(found) for name, found in hits.items()
        }

    def test_pooling_leaves_the_interaction_open(self):
        """An interaction that was pooled still has an interval reaching above zero."""
        study = crossed_study(as_frame(simulated(np.random.default_rng(31))), pool_above=0)
        parts = {component.name: component for component in study.components}

        assert study.interaction == 0
        assert any("pooled" in note for note in study.notes)
        assert 0 <= parts["interaction"].low < parts["interaction"].high

    def test_repeatability_interval_is_chi_square(self, frame):
        """The interval of repeatability lies near the exact chi-square one."""
        from scipy import stats

        study = crossed_study(frame, pool_above=1)
        part = study.components[0]
        exact = [study.repeatability * np.sqrt(16 / stats.chi2.ppf(p, 16)) for p in (0.975, 0.025)]

        assert (part.low, part.high) == pytest.approx(exact, rel=0.02)

    @settings(max_examples=20, deadline=None)
    @given(st.integers(0, 10**6), st.floats(-50, 50), st.floats(0.1, 30))
    def test_moves_with_its_values(self, seed, shift, scale):
        """A shift of all readings changes nothing; a change of unit scales every standard deviation."""
        values = simulated(np.random.default_rng(seed), (3, 2, 2))
        for study, names in ((crossed_study, NAMES), (average_and_range, ("repeatability", "gauge", "part"))):
            plain, moved = study(as_frame(values)), study(as_frame(shift + scale * values))
            for name in names:
                assert getattr(moved, name) == pytest.approx(scale * getattr(plain, name), abs=1e-6)


def test_average_and_range_names_the_erratic_cell(frame):
    """A slip in one reading shows as the range of that part and appraiser."""
    frame.loc[(frame["part"] == 1) & (frame["appraiser"] == 0) & (frame["trial"] == 2), "value"] += 5

    assert average_and_range(frame).erratic == (("1", "0"),)


class TestOnePersonStudy:
    def test_ten_repeats_of_one_part(self):
        """From ten repeats the standard deviation is known within 0.69 to 1.83 times itself."""
        values = np.random.default_rng(28).normal(18, 0.02, 10)
        study = one_person_study(pd.DataFrame({"part": "tail", "trial": range(10), "value": values}))

        assert study.repeatability == pytest.approx(values.std(ddof=1))
        assert study.low / study.repeatability == pytest.approx(0.69, abs=0.005)
        assert study.high / study.repeatability == pytest.approx(1.83, abs=0.005)
        assert study.part is study.distinct_categories is None

    def test_several_parts(self):
        """With several parts their own spread is told apart from the repeats'."""
        values = simulated(np.random.default_rng(29), (200, 1, 3))
        study = one_person_study(as_frame(values).drop(columns="appraiser"))

        assert study.dof == 400
        assert study.repeatability == pytest.approx(0.2, rel=0.1)
        assert study.part == pytest.approx(1.0, rel=0.15)

    def test_one_trial(self):
        """One trial of each part shows no repeatability."""
        with pytest.raises(CannotSay, match="trials"):
            one_person_study(pd.DataFrame({"part": [1, 2], "trial": [1, 1], "value": [18.0, 18.1]}))


class TestReferenceStudy:
    def test_against_scipy(self):
        """Bias, t and p equal scipy's one-sample t test when nothing else is uncertain."""
        from scipy import stats

        values = [25.01, 25.02, 25.00, 25.02, 25.01]
        found, other = reference_study(values, 25.0), stats.ttest_1samp(values, 25.0)

        assert (found.t, found.p) == pytest.approx((other.statistic, other.pvalue))
        assert (found.low, found.high) == pytest.approx(
            (other.confidence_interval().low - 25, other.confidence_interval().high - 25)
        )

    def test_all_readings_alike(self):
        """A caliper that always shows the same is as uncertain as its step; without that it cannot say."""
        found = reference_study([25.01] * 10, 25.0, step=0.01)

        assert found.standard_uncertainty == pytest.approx(0.01 / 12**0.5)
        assert found.low < 0.01 < found.high
        with pytest.raises(CannotSay, match="step"):
            reference_study([25.01] * 10, 25.0)

    def test_uncertainty_adds(self):
        """Scatter, step and reference add as variances."""
        found = reference_study([25.01, 25.03], 25.0, step=0.02, reference_uncertainty=0.01)

        assert found.standard_uncertainty**2 == pytest.approx(0.0002 / 2 + 0.02**2 / 12 + 0.01**2)

    @pytest.mark.parametrize(
        ("values", "options"),
        [
            ([25.0], {}),
            ([25.0, np.nan], {}),
            ([25.0, 25.1], {"step": -1}),
            ([25.0, 25.1], {"confidence": 95}),
        ],
    )
    def test_refusals(self, values, options):
        """One reading, a missing one, a negative step and a confidence in per cent are refused."""
        with pytest.raises(CannotSay):
            reference_study(values, 25.0, **options)

    def test_wrong_alarms(self):
        """An instrument without bias is blamed one time in twenty."""
        draws = np.random.default_rng(30).normal(25, 0.01, (1500, 6))

        assert np.mean([reference_study(row, 25).p < 0.05 for row in draws]) == pytest.approx(0.05, abs=0.017)


class TestComplianceStudy:
    def test_against_scipy(self):
        """Compression, t and p equal scipy's paired t test."""
        from scipy import stats

        light, firm = [3.02, 3.05, 3.01, 3.04], [2.98, 3.00, 2.99, 2.97]
        found, other = compliance_study(light, firm), stats.ttest_rel(light, firm)

        assert found.compression == pytest.approx(0.045)
        assert (found.t, found.p) == pytest.approx((other.statistic, other.pvalue))

    def test_refusals(self):
        """Lengths that differ are refused; differences all alike need the step."""
        with pytest.raises(CannotSay, match="3 light and 2 firm"):
            compliance_study([1, 2, 3], [1, 2])
        with pytest.raises(CannotSay, match="step"):
            compliance_study([3.0, 4.0, 5.0], [2.0, 3.0, 4.0])
        assert compliance_study([3.0, 4.0], [2.0, 3.0], step=0.01).p < 1e-9
