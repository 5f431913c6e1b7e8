"""Decision rules against JCGM 106:2012, ISO 14253-1 and ILAC-G8:09/2019."""

import pytest

from qa.conformity import conformance_probability, decide, guard_band


def test_breakdown_voltage():
    """JCGM 106:2012 clause 7 (from memory): -5.47 V, u = 0.05 V, limit -5.40 V: pc = 0.92."""
    assert round(conformance_probability(-5.47, 0.05, upper=-5.40), 2) == 0.92
    assert decide(-5.47, 0.05, None, -5.40) == "undecided"


@pytest.mark.parametrize(("pc", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)])
def test_one_sided_quantiles(pc, z):
    """JCGM 106:2012 table 1 (values from memory)."""
    assert guard_band(1.0, pc) == pytest.approx(z, abs=0.0051)


@pytest.mark.parametrize(
    ("r", "stated", "exact"),
    [
        (0.0, 0.5, 0.5),
        (0.83, 0.05, 0.0485),
        (1.0, 0.025, 0.0228),
        (1.5, 0.0016, 0.00135),
        (3.0, 1e-6, 9.9e-10),
    ],
)
def test_guard_band_bounds_false_acceptance(r, stated, exact):
    """ILAC-G8:09/2019 table 1 and JCGM 106:2012 8.3, guard w = r U, U = 2 u: at most the stated risk.

    Rows r = 0 and r = 1 were seen, the others are from memory; the exact risk is the normal tail.
    """
    false_acceptance = 1 - conformance_probability(10 - r * 2, 1.0, upper=10)
    assert false_acceptance <= stated
    assert false_acceptance == pytest.approx(exact, rel=0.01)


def test_default_guard_band():
    """ISO 14253-1:2017 (from memory): at 95 %, one limit in play, 1.65 u (exactly 1.645)."""
    assert guard_band(1.0) == pytest.approx(1.645, abs=5e-4)
