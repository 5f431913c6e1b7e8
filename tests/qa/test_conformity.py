"""Verdicts: conforms, does not conform, undecided."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from qa.conformity import (
    Verdict,
    acceptance_limits,
    conformance_probability,
    decide,
    decide_many,
    guard_band,
)
from qa.errors import CannotSay

sizes = st.floats(-50, 50)
spreads = st.floats(1e-4, 2)
confidences = st.floats(0.501, 0.9999)
# Readings as a shop has them: on a grid, with an uncertainty that may be zero or wide beside the tolerance
shop_readings = st.tuples(
    st.integers(-60, 60).map(lambda n: n / 100),
    st.sampled_from([0.0, 1e-9, 0.003, 0.012, 0.025, 0.06, 0.3]),
    st.integers(-30, 0).map(lambda n: n / 100),
    st.integers(0, 30).map(lambda n: n / 100),
)


@given(sizes, spreads, sizes, sizes)
def test_probability_is_the_normal_mass_between_the_limits(value, u, one, two):
    """Against scipy's normal distribution."""
    lower, upper = sorted((one, two))
    expected = norm.cdf(upper, value, u) - norm.cdf(lower, value, u)
    assert conformance_probability(value, u, lower, upper) == pytest.approx(expected, abs=1e-12)


@given(sizes, spreads, sizes)
def test_one_sided_probabilities_are_complements(value, u, limit):
    """Below a limit and above it together make certainty."""
    below = conformance_probability(value, u, upper=limit)
    assert below + conformance_probability(value, u, lower=limit) == pytest.approx(1)


def test_far_tails_keep_their_digits():
    """A tiny probability beyond the upper tail is as exact as its mirror image."""
    above = conformance_probability(0, 1, 10, 11)
    assert above == conformance_probability(0, 1, -11, -10)
    assert above == pytest.approx(norm.sf(10) - norm.sf(11), rel=1e-10)


@pytest.mark.parametrize(
    ("value", "lower", "upper", "expected"),
    [
        (0.1 + 0.2, None, 0.3, 1.0),
        (18.15, 17.85, 18.15, 1.0),
        (17.85, 17.85, 18.15, 1.0),
        (18.150001, 17.85, 18.15, 0.0),
        (18.1500004, 17.85, 18.15, 1.0),
        (31.75, 31.75, 31.75, 1.0),
        (17.849999, 17.85, None, 0.0),
    ],
)
def test_a_certain_value_is_compared_to_the_nanometre_limits_included(value, lower, upper, expected):
    """No binary fraction decides where there is no uncertainty."""
    assert conformance_probability(value, 0.0, lower, upper) == expected
    verdict = "conforms" if expected else "does not conform"
    assert decide_many([value], 0.0, lower, upper).words() == [verdict]


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (18.00, "conforms"),
        (18.11, "conforms"),
        (18.13, "undecided"),
        (18.15, "undecided"),
        (18.17, "undecided"),
        (18.21, "does not conform"),
        (17.50, "does not conform"),
    ],
)
def test_three_outcomes_around_a_limit(value, verdict):
    """A tolerance of 17.85 to 18.15 read with u = 0.021: the guard band is 0.035 on either side."""
    assert decide(value, 0.021, 17.85, 18.15) == verdict


def test_verdicts_are_their_words():
    """A verdict is plain text, and there is one for a reading that is missing."""
    assert f"{decide(1.0, 0.0, None, 2.0)}" == "conforms"
    assert Verdict("not measured") is Verdict.NOT_MEASURED


@given(sizes, spreads, sizes, confidences)
def test_one_limit_is_guarded_by_a_normal_quantile(value, u, limit, confidence):
    """With one limit, conforming means staying a guard band inside it, failing a guard band outside."""
    guard = guard_band(u, confidence)
    assume(min(abs(value - limit + guard), abs(value - limit - guard)) > 1e-6 * u)
    expected = (
        Verdict.CONFORMS
        if value <= limit - guard
        else Verdict.DOES_NOT_CONFORM
        if value >= limit + guard
        else Verdict.UNDECIDED
    )
    assert decide(value, u, None, limit, confidence) == expected


@given(shop_readings, st.sampled_from([0.6, 0.9, 0.95, 0.99]))
def test_certainty_asked_for_never_turns_a_verdict_round(reading, confidence):
    """Asking for more confidence can only make a verdict undecided."""
    value, u, lower, upper = reading
    strict, plain = decide(value, u, lower, upper, 0.999), decide(value, u, lower, upper, confidence)
    assert strict in (plain, Verdict.UNDECIDED)


@given(st.floats(0.05, 1), st.floats(1e-4, 0.5), confidences)
def test_acceptance_limits_are_where_verdicts_change(width, u, confidence):
    """Just inside conforms, just outside does not; with both limits in play too."""
    try:
        low, high = acceptance_limits(18.0, 18.0 + width, u, confidence)
    except CannotSay:
        assert decide(18.0 + width / 2, u, 18.0, 18.0 + width, confidence) != "conforms"
        return
    assume(high - low > 1e-6)
    assert decide(low + 1e-7, u, 18.0, 18.0 + width, confidence) == "conforms"
    assert decide(high - 1e-7, u, 18.0, 18.0 + width, confidence) == "conforms"
    assert decide(low - 1e-7, u, 18.0, 18.0 + width, confidence) != "conforms"
    assert decide(high + 1e-7, u, 18.0, 18.0 + width, confidence) != "conforms"


def test_acceptance_limits_with_one_limit_or_no_uncertainty():
    """One limit moves by the guard band; none where there is no doubt."""
    assert acceptance_limits(None, 18.15, 0.02) == (None, pytest.approx(18.15 - 1.644854 * 0.02))
    assert acceptance_limits(17.85, 18.15, 0.0) == (17.85, 18.15)


@given(st.lists(shop_readings, min_size=1, max_size=60), st.sampled_from([0.55, 0.9, 0.95, 0.99, 1 - 1e-12]))
def test_many_are_judged_as_one_by_one(readings, confidence):
    """The array form gives decide()'s answer for every reading, on limits and beside wide uncertainties."""
    verdicts = decide_many(*np.array(readings).T, confidence)
    assert verdicts.words() == [decide(*reading, confidence) for reading in readings]
    assert verdicts.codes.dtype == np.int8


@given(st.lists(st.floats(17.5, 18.5), min_size=1, max_size=60), st.floats(0, 0.2))
def test_many_values_with_one_uncertainty_and_one_limit(values, u):
    """Single numbers stand for every reading; an absent limit is None."""
    assert decide_many(values, u, None, 18.15).words() == [decide(v, u, None, 18.15) for v in values]
    assert decide_many(values, u, 17.85, 18.15).words() == [decide(v, u, 17.85, 18.15) for v in values]


def test_many_agree_at_the_edges_of_the_guard_band():
    """Readings within a hair of where the verdict changes, more than one chunk of them."""
    low, high = acceptance_limits(17.85, 18.15, 0.02)
    hairs = np.linspace(-1e-12, 1e-12, 9)
    values = np.concatenate([edge + hairs for edge in (low, high, 17.85 - 0.0329, 17.85, 18.15)])
    one_by_one = [decide(value, 0.02, 17.85, 18.15) for value in values]
    assert decide_many(np.tile(values, 500), 0.02, 17.85, 18.15).words() == one_by_one * 500


def test_many_agree_where_the_far_limit_just_matters():
    """A tolerance so narrow that the far limit moves the guard by a hair: judged by the probability."""
    low, high = acceptance_limits(0.0, 4.1, 1.0, 0.51)
    assert low > guard_band(1.0, 0.51) + 1e-5
    values = np.concatenate(
        [edge + np.linspace(-1e-4, 1e-4, 41) for edge in (low, high, -guard_band(1.0, 0.51))]
    )
    verdicts = decide_many(values, 1.0, 0.0, 4.1, 0.51).words()
    assert verdicts == [decide(value, 1.0, 0.0, 4.1, 0.51) for value in values]


def test_arrays_may_mix_one_sided_and_two_sided_limits():
    """An infinite limit in an array is none."""
    mixed = decide_many([1.0, 1.0], 0.1, [-np.inf, 0.5], [0.5, np.inf])
    assert mixed.words() == ["does not conform", "conforms"]


def test_no_readings_give_no_verdicts():
    """An empty log is not an error."""
    assert decide_many([], 0.1, 0.0, 1.0).words() == []


BAD = [
    (math.nan, 0.1, 0.0, 1.0, 0.95),
    (math.inf, 0.1, 0.0, 1.0, 0.95),
    (0.5, -0.1, 0.0, 1.0, 0.95),
    (0.5, math.nan, 0.0, 1.0, 0.95),
    (0.5, math.inf, 0.0, 1.0, 0.95),
    (0.5, 0.1, 1.0, 0.0, 0.95),
    (0.5, 0.1, math.nan, 1.0, 0.95),
    (0.5, 0.1, 0.0, math.nan, 0.95),
    (0.5, 0.1, None, None, 0.95),
    (0.5, 0.1, math.inf, None, 0.95),
    (0.5, 0.1, 0.0, 1.0, 0.5),
    (0.5, 0.1, 0.0, 1.0, 1.0),
    (0.5, 0.1, 0.0, 1.0, math.nan),
]


@pytest.mark.parametrize("bad", BAD)
def test_what_cannot_be_judged_is_refused(bad):
    """One by one, and in arrays (where a single bad row among good ones is enough)."""
    value, u, lower, upper, confidence = bad
    with pytest.raises(CannotSay):
        decide(*bad)
    with pytest.raises(CannotSay):
        decide_many([0.5, value], [0.1, u], lower, upper, confidence)
    if lower is not None and upper is not None and confidence == 0.95:
        with pytest.raises(CannotSay):
            decide_many([0.5, value], u, [0.0, lower], [1.0, upper])


@pytest.mark.parametrize(
    "ask",
    [
        lambda: decide_many([1.0, 2.0], [0.1, 0.1, 0.1], 0.0, 1.0),
        lambda: decide_many([[1.0]], 0.1, 0.0, 1.0),
        lambda: decide_many(["thick"], 0.1, 0.0, 1.0),
        lambda: guard_band(-1),
        lambda: acceptance_limits(None, None, 0.1),
        lambda: acceptance_limits(0.0, 0.1, 1.0),
    ],
)
def test_shapes_and_words_are_refused(ask):
    """Lengths that differ, tables and text are no readings."""
    with pytest.raises(CannotSay):
        ask()
