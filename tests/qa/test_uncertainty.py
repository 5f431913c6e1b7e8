"""Budgets of readings, and of what is computed from them."""

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import t
from uncertainties import ufloat

from qa.errors import CannotSay
from qa.uncertainty import (
    Contribution,
    ReadingBudget,
    combine,
    coverage_factor,
    expanded,
    propagate,
    rectangular,
    resolution,
    thermal_expansion,
    type_a,
)

STATIONS = ("bottom-left", "bottom-right", "top-left", "top-right")
TAPER = dict(zip(STATIONS, (-0.5, -0.5, 0.5, 0.5), strict=True))
MEAN = dict.fromkeys(STATIONS, 0.25)

parts = st.builds(
    Contribution,
    u=st.floats(1e-6, 1.0),
    dof=st.one_of(st.integers(1, 50), st.just(math.inf)),
    sensitivity=st.floats(-10, 10),
)


def budgets(calipers):
    """A budget per station; each caliper has a zero error of its own, all share the wood."""
    return {
        station: ReadingBudget(
            own=(Contribution(0.012, 9, name="repeatability"), Contribution(resolution(0.01))),
            shared={f"zero:{caliper}": Contribution(0.015), "compliance:cedar": Contribution(0.008)},
        )
        for station, caliper in zip(STATIONS, calipers, strict=True)
    }


@given(st.lists(parts, min_size=1, max_size=8))
def test_combined_is_no_smaller_than_its_largest_part_and_no_larger_than_their_sum(lines):
    """Root sum of squares lies between the largest part and the plain sum."""
    sizes = [line.part for line in lines]
    combined = combine(lines)
    assert max(sizes) <= combined.u * (1 + 1e-12)
    assert combined.u <= sum(sizes) * (1 + 1e-12)


@given(st.lists(parts, min_size=1, max_size=8))
def test_effective_dof_lies_between_the_smallest_and_the_sum(lines):
    """Welch-Satterthwaite never exceeds the summed degrees of freedom, nor falls below the smallest."""
    assume(all(line.part > 1e-9 for line in lines))
    dofs = [line.dof for line in lines]
    combined = combine(lines)
    assert min(dofs) * (1 - 1e-9) <= combined.dof <= sum(dofs) * (1 + 1e-9)


@given(st.lists(parts, min_size=1, max_size=8), st.floats(1e-3, 1e3))
def test_units_do_not_matter(lines, factor):
    """Stating every input in another unit scales u and leaves the degrees of freedom."""
    scaled = combine(Contribution(line.u * factor, line.dof, line.sensitivity) for line in lines)
    plain = combine(lines)
    assert scaled.u == pytest.approx(plain.u * factor, rel=1e-9)
    assert scaled.dof == pytest.approx(plain.dof, rel=1e-6)


def test_a_budget_is_listed_largest_first():
    """The printable budget leads with what matters most."""
    combined = combine([Contribution(1, name="small"), Contribution(1, sensitivity=-5, name="large")])
    assert [line.name for line in combined.contributions] == ["large", "small"]


def test_nothing_uncertain_is_certain():
    """Zero contributions give zero and infinitely many degrees of freedom."""
    combined = combine([Contribution(0.0, 3), Contribution(0.0)])
    assert (combined.u, combined.dof) == (0.0, math.inf)


def test_one_calipers_zero_error_cancels_in_a_taper():
    """With one caliper only the readings' own parts remain; the mean keeps the whole zero error."""
    own = 0.012**2 + resolution(0.01) ** 2
    same = budgets(["one"] * 4)
    assert propagate(TAPER, same).u == pytest.approx(math.sqrt(own))
    assert propagate(MEAN, same).u == pytest.approx(math.sqrt(own / 4 + 0.015**2 + 0.008**2))


def test_two_calipers_zero_errors_do_not_cancel():
    """One caliper per end: both zero errors stay in the taper."""
    own = 0.012**2 + resolution(0.01) ** 2
    mixed = propagate(TAPER, budgets(["one", "one", "two", "two"]))
    assert mixed.u == pytest.approx(math.sqrt(own + 2 * 0.015**2))


@pytest.mark.parametrize("calipers", list(product(("one", "two"), repeat=4)))
@pytest.mark.parametrize("slopes", [TAPER, MEAN, dict(zip(STATIONS, (1, -1, -1, 1), strict=True))])
def test_shared_causes_propagate_as_in_an_independent_package(calipers, slopes):
    """The same as linear propagation with one variable per cause (package `uncertainties`)."""
    variables = {}

    def variable(key, u):
        return variables.setdefault(key, ufloat(0, u))

    total = 0
    given_budgets = budgets(calipers)
    for station, slope in slopes.items():
        budget = given_budgets[station]
        reading = sum(variable((station, i), line.u) for i, line in enumerate(budget.own))
        reading += sum(variable(cause, line.u) for cause, line in budget.shared.items())
        total += slope * reading
    assert propagate(slopes, given_budgets).u == pytest.approx(total.std_dev, rel=1e-12, abs=1e-15)


def test_shared_causes_propagate_as_by_monte_carlo():
    """Propagation of distributions (JCGM 101:2008), seeded: the spread of simulated tapers agrees."""
    random = np.random.default_rng(20240501)
    draws = 200_000
    zero = {name: random.normal(0, 0.015, draws) for name in ("one", "two")}
    cedar = random.normal(0, 0.008, draws)
    calipers = ("one", "one", "one", "two")
    simulated = sum(
        slope
        * (random.normal(0, 0.012, draws) + random.uniform(-0.005, 0.005, draws) + zero[caliper] + cedar)
        for slope, caliper in zip(TAPER.values(), calipers, strict=True)
    )
    assert propagate(TAPER, budgets(calipers)).u == pytest.approx(simulated.std(), rel=0.01)


def test_a_shared_cause_scales_with_its_own_sensitivity():
    """A zero error seen reversed by one reading adds up in a difference instead of cancelling."""
    up, down = Contribution(0.01), Contribution(0.01, sensitivity=-1.0)
    pair = {"a": ReadingBudget(shared={"zero": up}), "b": ReadingBudget(shared={"zero": down})}
    assert propagate({"a": 1, "b": -1}, pair).u == pytest.approx(0.02)


def test_a_reading_without_a_budget_is_named():
    """Propagation refuses to guess."""
    with pytest.raises(CannotSay, match="top-left"):
        propagate({"top-left": 1.0}, {})


@given(st.floats(0.6, 500), st.floats(0.5, 0.999))
def test_coverage_factor_is_two_sided_students_t(dof, p):
    """Whole and fractional degrees of freedom alike (scipy's own distribution as reference)."""
    assert coverage_factor(dof, p) == pytest.approx(t.ppf((1 + p) / 2, dof), rel=1e-9)


def test_coverage_factor_tends_to_the_normal():
    """Infinite degrees of freedom give the normal quantile, and few give more."""
    assert coverage_factor(math.inf, 0.95) == pytest.approx(1.959964, abs=1e-6)
    assert coverage_factor(1e9, 0.95) == pytest.approx(coverage_factor(math.inf, 0.95), rel=1e-8)
    assert coverage_factor(2, 0.95) > coverage_factor(20, 0.95) > coverage_factor(math.inf, 0.95)


def test_expanded_is_k_times_u():
    """U = k u at the effective degrees of freedom."""
    combined = combine([Contribution(0.01, 4)])
    assert expanded(combined, 0.99) == pytest.approx(coverage_factor(4, 0.99) * 0.01)


def test_type_a_is_the_standard_deviation_of_a_mean():
    """n readings give s/sqrt(n) with n - 1 degrees of freedom; a single later one has s."""
    readings = [18.01, 18.02, 18.00, 18.03]
    spread = np.std(readings, ddof=1)
    assert type_a(readings).u == pytest.approx(spread / 2)
    assert type_a(readings, averaged=1).u == pytest.approx(spread)
    assert type_a(readings).dof == 3


def test_rectangular_and_thermal_helpers():
    """Plus-minus a gives a/sqrt 3; a kelvin on 50 mm of steel is 575 nm."""
    assert rectangular(0.03) == pytest.approx(0.03 / math.sqrt(3))
    assert thermal_expansion(50, 11.5e-6, 1.0).part == pytest.approx(575e-6)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: Contribution(-0.1),
        lambda: Contribution(math.nan),
        lambda: Contribution(math.inf),
        lambda: Contribution(0.1, 0),
        lambda: Contribution(0.1, math.nan),
        lambda: Contribution(0.1, sensitivity=math.inf),
        lambda: combine([]),
        lambda: coverage_factor(0, 0.95),
        lambda: coverage_factor(math.nan, 0.95),
        lambda: coverage_factor(5, 1.0),
        lambda: coverage_factor(5, math.nan),
        lambda: type_a([18.0]),
        lambda: type_a([18.0, math.nan]),
        lambda: type_a([18.0, 18.1], averaged=0),
        lambda: rectangular(-1),
        lambda: resolution(math.nan),
        lambda: propagate({"a": math.nan}, {"a": ReadingBudget((Contribution(1),))}),
        lambda: propagate({}, {}),
    ],
)
def test_bad_budgets_are_refused(ask):
    """No number comes out of a budget that makes no sense."""
    with pytest.raises(CannotSay):
        ask()
