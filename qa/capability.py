"""Capability: can this way of working hold that tolerance, and how sure is that from so few builds?"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, lgamma, sqrt

import numpy as np

from qa.arithmetic.normality import Normality, ProbabilityPlot, anderson_darling, probability_plot
from qa.arithmetic.series import FloatArray, number, series, share, varies
from qa.arithmetic.tolerance_intervals import (
    HonestTolerance,
    ToleranceInterval,
    honest_tolerance,
    tolerance_factor,
    tolerance_interval,
)
from qa.charts.individuals_chart import D2, moving_range_relative_error
from qa.errors import CannotSay

__all__ = [
    "Capability",
    "HonestTolerance",
    "Normality",
    "ProbabilityPlot",
    "ToleranceInterval",
    "anderson_darling",
    "capability",
    "cpk_interval",
    "honest_tolerance",
    "probability_plot",
    "tolerance_factor",
    "tolerance_interval",
]

PURPOSE = "capability"
FEWEST = 5
Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Capability:
    """Capability indices (no unit) with intervals (low, high) at `confidence`.

    cp and cpk go by the spread from one build to the next (`sigma_within`), pp and ppk by the spread of all
    builds together (`sigma_overall`). cp and pp, which need both limits, are None where there is only one.
    """

    cp: float | None
    cpk: float
    pp: float | None
    ppk: float
    cp_interval: Interval | None
    cpk_interval: Interval
    pp_interval: Interval | None
    ppk_interval: Interval
    n: int
    mean: float
    sigma_within: float
    sigma_overall: float
    confidence: float


@dataclass(frozen=True, slots=True)
class _Spread:
    """An estimate of sigma; its `chi_scaled` follows sigma × χ(dof) / √dof, like a standard deviation."""

    estimate: float
    chi_scaled: float
    dof: float


def capability(
    values: Sequence[float], lower: float | None, upper: float | None, confidence: float = 0.95
) -> Capability:
    """Compare the spread of `values`, in build order, with the limits `lower` and `upper` (same unit).

    One limit may be None. Cp = (upper - lower) / 6 sigma; Cpk = distance from the mean to the nearer limit
    / 3 sigma. The within sigma is mean moving range / 1.128, the overall one the standard deviation.

    Intervals assume normal values without drift: chi-square for pp (exact), Bissell's for ppk. Those of cp
    and cpk take the fewer degrees of freedom of a mean moving range (11.9 for 20 values, not 19), matched
    by its exact relative error; with n - 1 they would cover 88 %. By simulation, n 5 to 30, Cpk 0.33 to 2,
    centred or one sigma off, the 95 % intervals cover 94.5 to 97.5 %.

    Raises CannotSay below five values, for values all the same, for limits reversed, or none.
    Source: NIST/SEMATECH e-Handbook 6.1.6; Bissell 1990, Applied Statistics 39 (from memory).
    """
    data = series(values, purpose=PURPOSE, least=FEWEST)
    low, high = _limits(lower, upper)
    level = share(confidence, purpose=PURPOSE, name="confidence")
    overall, within = _overall(data), _within(data)
    n, mean = data.size, float(data.mean())

    def both_sides(spread: _Spread) -> tuple[float | None, Interval | None]:
        if lower is None or upper is None:
            return None, None
        return (high - low) / (6 * spread.estimate), _width_interval(high - low, spread, level)

    def nearer_side(spread: _Spread) -> tuple[float, Interval]:
        room = min(high - mean, mean - low) / 3
        return room / spread.estimate, _bissell(room / spread.chi_scaled, n, spread.dof, level)

    (cp, cp_range), (pp, pp_range) = both_sides(within), both_sides(overall)
    (cpk, cpk_range), (ppk, ppk_range) = nearer_side(within), nearer_side(overall)
    return Capability(
        cp, cpk, pp, ppk, cp_range, cpk_range, pp_range, ppk_range,
        n, mean, within.estimate, overall.estimate, level,
    )  # fmt: skip


def cpk_interval(cpk: float, n: int, confidence: float = 0.95) -> Interval:
    """Interval of a Cpk stated without its values, its sigma the standard deviation of `n` of them.

    Raises CannotSay below five values. Source: Bissell 1990, Applied Statistics 39 (from memory).
    """
    index = number(cpk, purpose=PURPOSE, name="cpk")
    if n < FEWEST:
        raise CannotSay(f"{PURPOSE}: needs {FEWEST} or more values, and there are {n}")
    return _bissell(index, n, n - 1, share(confidence, purpose=PURPOSE, name="confidence"))


def _limits(lower: float | None, upper: float | None) -> Interval:
    if lower is None and upper is None:
        raise CannotSay(f"{PURPOSE}: give a lower limit, an upper limit, or both")
    low = -inf if lower is None else number(lower, purpose=PURPOSE, name="lower limit")
    high = inf if upper is None else number(upper, purpose=PURPOSE, name="upper limit")
    if not low < high:
        raise CannotSay(f"{PURPOSE}: the lower limit {low:g} must be below the upper limit {high:g}")
    return low, high


def _overall(data: FloatArray) -> _Spread:
    deviation = float(data.std(ddof=1))
    if not varies(data):
        raise CannotSay(
            f"{PURPOSE}: all {data.size} values are the same: the step of the instrument hides their "
            "spread; read with a finer one"
        )
    return _Spread(deviation, deviation, data.size - 1)


def _within(data: FloatArray) -> _Spread:
    estimate = float(np.abs(np.diff(data)).mean()) / D2
    dof = _matching_dof(moving_range_relative_error(data.size))
    return _Spread(estimate, estimate * _c4(dof), dof)


def _c4(dof: float) -> float:
    """Mean of χ(dof)/√dof."""
    return sqrt(2 / dof) * exp(lgamma((dof + 1) / 2) - lgamma(dof / 2))


def _matching_dof(relative_error: float) -> float:
    """Degrees of freedom whose chi distribution has this standard deviation relative to its mean."""
    from scipy.optimize import brentq

    return float(brentq(lambda dof: sqrt(1 / _c4(dof) ** 2 - 1) - relative_error, 0.5, 1e5))


def _width_interval(width: float, spread: _Spread, level: float) -> Interval:
    from scipy.special import chdtri

    tail = (1 - level) / 2
    low, high = (sqrt(chdtri(spread.dof, p) / spread.dof) for p in (1 - tail, tail))
    return width / (6 * spread.chi_scaled) * low, width / (6 * spread.chi_scaled) * high


def _bissell(index: float, n: int, dof: float, level: float) -> Interval:
    from scipy.special import ndtri

    half = float(ndtri((1 + level) / 2)) * sqrt(1 / (9 * n) + index**2 / (2 * dof))
    return index - half, index + half
