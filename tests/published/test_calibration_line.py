"""A calibration by a straight line against the GUM's own example, and against other programs."""

import numpy as np
import pytest
import statsmodels.api as sm

from qa.calipers.bias import weighted_line

# JCGM 100:2008, Annex H.3, Table H.6: thermometer readings and corrections, degrees Celsius (from memory; the
# published results below come out of them to every digit printed).
READ = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
CORRECTION = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
AT_ZERO = 20.0


@pytest.fixture(scope="module")
def thermometer():
    """The line of the example, about 20 degrees."""
    return weighted_line(np.array(READ) - AT_ZERO, CORRECTION)


def test_thermometer_line(thermometer):
    """Intercept -0.1712 (0.0029), slope 0.00218 (0.00067), correlation -0.930, scatter 0.0035, 9 dof."""
    assert thermometer.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert thermometer.u_intercept == pytest.approx(0.0029, abs=5e-5)
    assert thermometer.slope == pytest.approx(0.00218, abs=5e-6)
    assert thermometer.u_slope == pytest.approx(0.00067, abs=5e-6)
    correlation = thermometer.covariance / (thermometer.u_intercept * thermometer.u_slope)
    assert correlation == pytest.approx(-0.930, abs=5e-4)
    assert (thermometer.chi_square / thermometer.dof) ** 0.5 == pytest.approx(0.0035, abs=5e-5)
    assert thermometer.dof == 9


def test_thermometer_correction_at_thirty_degrees(thermometer):
    """-0.1494 with a standard uncertainty of 0.0041, outside the readings (H.3.4)."""
    value, u = thermometer.at(30 - AT_ZERO)

    assert value == pytest.approx(-0.1494, abs=5e-5)
    assert u == pytest.approx(0.0041, abs=5e-5)


def test_weighted_line_agrees_with_two_other_programs():
    """Weights 1 / u²: numpy's polyfit and statsmodels' WLS with known scale give the same line."""
    rng = np.random.default_rng(7)
    x, u = rng.uniform(0, 150, 12), rng.uniform(0.005, 0.03, 12)
    y = 0.02 + 0.0004 * x + rng.normal(0, u)
    line = weighted_line(x, y, u)

    (slope, intercept), covariance = np.polyfit(x, y, 1, w=1 / u, cov="unscaled")
    fit = sm.WLS(y, sm.add_constant(x), weights=u**-2).fit(cov_type="fixed scale")

    assert (line.intercept, line.slope) == pytest.approx((intercept, slope), rel=1e-9)
    assert (line.u_slope**2, line.covariance, line.u_intercept**2) == pytest.approx(
        (covariance[0, 0], covariance[0, 1], covariance[1, 1]), rel=1e-9
    )
    assert (line.u_intercept, line.u_slope) == pytest.approx(tuple(fit.bse), rel=1e-9)


def test_permissible_errors_of_calipers():
    """Digital, step 0.01: 0.02 to 100 mm, 0.03 at 200 to 400 (DIN 862 as one public summary has it; shaky).

    The value taken for an instrument that is not described lies at the wider of the two.
    """
    from qa.instruments import TYPED

    assert 0.02 <= TYPED.max_permissible_error <= 0.03
    assert TYPED.resolution == 0.01
