"""Uncertainty against JCGM 100:2008 (the GUM)."""

import math

import pytest

from qa.uncertainty import Contribution, combine, coverage_factor, expanded, resolution, thermal_expansion

# End-gauge calibration, in nanometres, kelvins and per kelvin: JCGM 100:2008 H.1 and table H.1
NOMINAL = 50.000623e6
COMPARATOR = [
    Contribution(13 / math.sqrt(5), 24, name="repeated readings"),
    Contribution(10 / coverage_factor(5, 0.95), 5, name="random, comparator"),
    Contribution(20 / 3, 8, name="systematic, comparator"),
]


def end_gauge():
    """The budget of table H.1."""
    difference = combine(COMPARATOR)
    return [
        Contribution(25, 18, name="standard"),
        Contribution(difference.u, difference.dof, name="difference"),
        Contribution(0.58e-6, 50, -NOMINAL * -0.1, "expansion coefficients"),
        thermal_expansion(NOMINAL, 11.5e-6, 0.05 / math.sqrt(3), 2, "temperatures"),
    ]


def test_end_gauge_comparator():
    """JCGM 100:2008 H.1.3.2: u(d) = 9.7 nm with 25.6 degrees of freedom."""
    difference = combine(COMPARATOR)
    assert round(difference.u, 1) == 9.7
    assert round(difference.dof, 1) == 25.6


def test_end_gauge_budget():
    """JCGM 100:2008 table H.1: parts 25, 9.7, 2.9, 16.6 nm; u^2 = 1002 nm^2; u = 32 nm."""
    combined = combine(end_gauge())
    parts = {line.name: round(line.part, 1) for line in combined.contributions}
    expected = {"standard": 25.0, "difference": 9.7, "expansion coefficients": 2.9, "temperatures": 16.6}
    assert parts == expected
    assert combined.u**2 == pytest.approx(1002, abs=1)
    assert round(combined.u) == 32


def test_end_gauge_expanded():
    """JCGM 100:2008 H.1.6: 16.7 degrees of freedom, truncated to 16; t99 = 2.92; U99 = 93 nm.

    The document multiplies the rounded 32 nm; unrounded it is 92.5 nm.
    """
    combined = combine(end_gauge())
    assert round(combined.dof, 1) == 16.7
    assert round(coverage_factor(math.floor(combined.dof), 0.99), 2) == 2.92
    assert round(coverage_factor(16, 0.99) * round(combined.u)) == 93
    assert coverage_factor(16, 0.99) * combined.u == pytest.approx(92.5, abs=0.05)
    assert expanded(combined, 0.99) < coverage_factor(16, 0.99) * combined.u


def test_end_gauge_second_order():
    """JCGM 100:2008 H.1.7 (from memory): terms of 11.7 and 1.7 nm raise u to 34 nm."""
    u_temperature = math.hypot(0.2, 0.5 / math.sqrt(2))  # mean bench temperature, and its cycle
    first = NOMINAL * 0.58e-6 * u_temperature
    second = NOMINAL * (2e-6 / math.sqrt(3)) * 0.05 / math.sqrt(3)
    assert round(first, 1) == pytest.approx(11.7, abs=0.11)
    assert round(second, 1) == 1.7
    assert round(combine([*end_gauge(), Contribution(first), Contribution(second)]).u) == 34


@pytest.mark.parametrize(("p", "k"), [(0.95, 2.12), (0.9545, 2.17), (0.99, 2.92)])
def test_coverage_factor_at_16_degrees_of_freedom(p, k):
    """JCGM 100:2008 table G.2."""
    assert round(coverage_factor(16, p), 2) == k


def test_digital_step():
    """JCGM 100:2008 F.2.2.1 (from memory): a step gives u = 0.29 step; 0.01 mm gives 0.0029 mm."""
    assert round(resolution(1.0), 2) == 0.29
    assert round(resolution(0.01), 4) == 0.0029


def test_steel_expansion():
    """JCGM 100:2008 H.1: 50 mm of steel grows by 575 nm per kelvin."""
    assert thermal_expansion(50e6, 11.5e-6, 1.0).part == pytest.approx(575)
