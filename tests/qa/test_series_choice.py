"""The chart a series gets: by how few builds there are, after a fix, and for values no chart can use."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.drift.chart import BASELINE, LINES, SCORED, SINGLE, SMOOTHED, Spread, chart, limit_width, steadied
from qa.drift.report import clear
from qa.drift.spread import lent_spread, one_scale, shop_variation
from qa.errors import CannotSay

QUIET = np.random.default_rng(5).standard_normal(60)
SIZES = st.floats(-1e6, 1e6, allow_nan=False).map(lambda value: round(value, 3))


@pytest.mark.parametrize("n", [0, 1, 2])
def test_too_few_builds_are_told_so(n):
    """Below three builds there is no chart, and words for how many more it takes."""
    found = chart(QUIET[:n].tolist())
    assert found.phases == ("too few",)
    assert found.why == f"needs {3 - n} more build{'s' if n < 2 else ''} to chart"
    assert found.signals == ()
    assert np.isnan(found.center).all()


def test_equal_values_have_no_spread_to_judge_by():
    """A sentence, and no limits of zero width."""
    found = chart([0.1] * 12)
    assert "all 12 values are the same" in found.why
    assert found.signals == ()


def test_the_third_build_is_already_judged_by_two_before_it():
    """Self-starting: a build far from those before it signals before any baseline stands."""
    found = chart([0.00, 0.01, -0.01, 0.01, 0.00, 2.0])
    assert found.phases == ("self-starting",)
    assert [(signal.index, signal.rule) for signal in found.signals] == [(5, SCORED)]


def test_after_eight_builds_a_step_is_told_by_average_and_single_value():
    """The average speaks of a lasting step, the individuals limit of a large one."""
    found = chart([*QUIET[:8], *(QUIET[8:14] + 8)])
    assert found.phases == ("baseline",)
    assert found.alarms[0].index == 8
    assert {signal.rule for signal in found.signals} == {SINGLE, SMOOTHED}
    assert not np.isnan(found.smoothed[BASELINE:]).any()
    assert np.isnan(found.smoothed[:BASELINE]).all()


def test_twenty_quiet_builds_become_the_baseline():
    """Limits from twenty builds are their mean and spread; after an alarm the first eight remain."""
    calm = chart(QUIET[:30].tolist())
    assert calm.signals == ()
    assert calm.center[25] == pytest.approx(QUIET[:20].mean())
    assert calm.sigma[25] == pytest.approx(QUIET[:20].std(ddof=1))
    moved = chart([*QUIET[:8], *(QUIET[8:30] + 8)])
    assert moved.center[25] == pytest.approx(QUIET[:8].mean())


def test_limits_allow_for_the_few_builds_they_come_from():
    """Wider than three sigma from eight builds, and the narrower the more degrees of freedom."""
    found = chart(QUIET[:9].tolist())
    assert found.upper[8] - found.center[8] > 3 * found.sigma[8]
    widths = [limit_width(dof) for dof in (7, 10, 19, 40, 1e9)]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] == pytest.approx(2.46, abs=0.01)


def test_a_stated_fix_begins_a_new_baseline():
    """Builds after it are judged by each other, not by those before."""
    values = [*QUIET[:10], *(QUIET[10:20] + 8)]
    plain, fixed = chart(values), chart(values, fixes=[10])
    assert plain.signals
    assert fixed.starts == (0, 10)
    assert not [signal for signal in fixed.signals if signal.index >= 10]
    assert chart(values, fixes=[0, 20, -1, 99]).starts == (0,)


def test_a_lent_spread_steadies_by_degrees_of_freedom():
    """The variance is the mean of both, weighed; nothing lent changes nothing."""
    both = steadied(0.03, 7, Spread(0.06, 7))
    assert both.sigma**2 == pytest.approx((0.03**2 + 0.06**2) / 2)
    assert both.dof == 14
    assert steadied(0.03, 7, None) == Spread(0.03, 7)


def test_sister_series_lend_what_they_agree_on():
    """Sisters of one spread lend up to twenty degrees of freedom; unlike ones few, too few none."""
    random = np.random.default_rng(11)
    alike = lent_spread([random.normal(0, 0.05, 8).tolist() for _ in range(400)])
    assert alike.sigma == pytest.approx(0.05, rel=0.05)
    assert alike.dof == 20
    unlike = lent_spread(
        [random.normal(0, 0.01 * 3**power, 8).tolist() for power in range(5) for _ in range(20)]
    )
    assert unlike.dof < 4
    assert lent_spread([QUIET[:8].tolist()] * 5) is None


@given(st.lists(SIZES, max_size=45), st.lists(st.integers(-2, 50), max_size=3))
def test_no_values_break_a_chart(values, fixes):
    """Ties, outliers of any size and fixes anywhere: every line as long as the values, and none infinite."""
    found = chart(values, fixes)
    for name in LINES:
        line = getattr(found, name)
        assert line.shape == (len(values),)
        assert not np.isinf(line).any()
    drawn = ~np.isnan(found.smoothed)
    assert (found.smoothed_lower[drawn] <= found.smoothed_upper[drawn]).all()
    assert all(0 <= signal.index < len(values) for signal in found.signals + found.patterns)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_what_is_not_a_number_is_refused(bad):
    """Never a chart with holes that look like readings."""
    with pytest.raises(CannotSay, match="drift chart"):
        chart([0.1, bad, 0.2])


def test_models_of_one_spread_share_a_chart_and_unlike_ones_their_own_sigmas():
    """Tested first, and said: Brown and Forsythe's test decides."""
    models = ["small"] * 20 + ["large"] * 20
    alike = one_scale(QUIET[:40].tolist(), models, [None] * 40)
    assert not alike.own_sigmas
    assert "do not differ" in alike.says
    unlike = one_scale([*QUIET[:20], *(8 * QUIET[20:40])], models, [None] * 40)
    assert unlike.own_sigmas
    assert "own standard deviations" in unlike.says
    assert [unlike.values[part].std(ddof=1) for part in (slice(20), slice(20, 40))] == pytest.approx([1, 1])


def test_too_few_builds_of_a_model_go_by_their_tolerances():
    """Shares of the tolerance, brought to the widest."""
    found = one_scale([0.1, 0.1, 0.1], ["a", "a", "b"], [0.2, 0.2, 0.1])
    assert found.values.tolist() == pytest.approx([0.1, 0.1, 0.2])
    assert "own tolerance" in found.says
    assert one_scale([0.1, 0.2], ["a", "a"], [None, None]).says == ""


def test_the_readings_noise_is_taken_out_of_the_spread():
    """sigma² = s² - u², and "your caliper hides it" where the noise may be all."""
    values = (QUIET[:30] * 0.05).tolist()
    seen = float(np.std(values, ddof=1))
    found = shop_variation(values, 0.03)
    assert found.sigma == pytest.approx(np.sqrt(seen**2 - 0.03**2))
    assert found.low < found.sigma < found.high
    assert not found.hidden
    assert shop_variation(values, 0.06).hidden
    assert shop_variation([1.0, 1.0], 0.01).sigma == 0
    with pytest.raises(CannotSay):
        shop_variation([1.0], 0.01)


def test_what_stands_among_many_tests():
    """The example of Benjamini and Hochberg 1995, table 1 (from memory): four of fifteen at 0.05."""
    chances = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
        0.6528, 0.7590, 1.0,
    ]  # fmt: skip
    assert clear(chances) == [True] * 4 + [False] * 11
    assert clear([None, 0.001]) == [False, True]
    assert clear([]) == []
