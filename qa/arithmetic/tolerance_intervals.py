"""Tolerance intervals: between which sizes most parts will lie, and what tolerance could be promised."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from math import sqrt

import numpy as np

from qa.arithmetic.series import FloatArray, number, series, share, varies
from qa.errors import CannotSay

PURPOSE = "tolerance interval"


@dataclass(frozen=True, slots=True)
class ToleranceInterval:
    """With `confidence`, at least the share `coverage` of all parts lies from `low` to `high`."""

    low: float
    high: float
    factor: float
    n: int
    coverage: float
    confidence: float


@dataclass(frozen=True, slots=True)
class HonestTolerance:
    """The smallest ±`plus_minus` about `target` that takes in the whole tolerance interval.

    `offset` is mean - target: how much of it better centring would save.
    """

    plus_minus: float
    target: float
    offset: float
    interval: ToleranceInterval


def tolerance_factor(n: int, coverage: float, confidence: float, sided: int = 2) -> float:
    """Return k: mean ± k × standard deviation of `n` normal values covers `coverage` with `confidence`.

    Exact: `sided` 2 integrates over the mean and the chi-square of the standard deviation (for n = 10 at
    0.95/0.95, 3.393, where Howe's approximation gives 3.382); `sided` 1 is noncentral t. Raises CannotSay
    for n below 2, shares not between 0 and 1, or another `sided`.
    Source: NIST/SEMATECH e-Handbook 7.2.6.3; two-sided exact after Wald and Wolfowitz 1946 (from memory).
    """
    if n != int(n) or n < 2:
        raise CannotSay(f"{PURPOSE}: needs 2 or more values, and there are {n}")
    part = share(coverage, purpose=PURPOSE, name="coverage")
    level = share(confidence, purpose=PURPOSE, name="confidence")
    if sided == 2:
        return _two_sided(int(n), part, level)
    if sided == 1:
        return _one_sided(int(n), part, level)
    raise CannotSay(f"{PURPOSE}: sided is 1 or 2, not {sided!r}")


def tolerance_interval(
    values: Sequence[float], coverage: float = 0.95, confidence: float = 0.95
) -> ToleranceInterval:
    """Two-sided exact tolerance interval of normal `values`, in their unit.

    Raises CannotSay below three values or where all are the same.
    """
    data = series(values, purpose=PURPOSE, least=3)
    if not varies(data):
        raise CannotSay(f"{PURPOSE}: all {data.size} values are the same; read with a finer step")
    factor = tolerance_factor(data.size, coverage, confidence)
    mean, half = float(data.mean()), factor * float(data.std(ddof=1))
    return ToleranceInterval(mean - half, mean + half, factor, data.size, coverage, confidence)


def honest_tolerance(
    values: Sequence[float], target: float, coverage: float = 0.95, confidence: float = 0.95
) -> HonestTolerance:
    """What ± tolerance about `target` these builds show could be promised, in the unit of the values.

    Errs on the safe side where the mean is off target. Raises CannotSay as `tolerance_interval` does.
    """
    aim = number(target, purpose=PURPOSE, name="target")
    interval = tolerance_interval(values, coverage, confidence)
    plus_minus = max(interval.high - aim, aim - interval.low)
    return HonestTolerance(plus_minus, aim, (interval.low + interval.high) / 2 - aim, interval)


def _one_sided(n: int, coverage: float, confidence: float) -> float:
    from scipy.special import nctdtr, ndtri

    noncentrality = float(ndtri(coverage)) * sqrt(n)
    return _solve(lambda k: float(nctdtr(n - 1, noncentrality, k * sqrt(n))), confidence)


@lru_cache(maxsize=256)
def _two_sided(n: int, coverage: float, confidence: float) -> float:
    from scipy.special import chdtrc, chndtrix

    node, weight = _nodes()
    z = 4.5 * (node + 1)  # standard errors the mean is off, either way; beyond 9 lies 2e-19
    mass = 2 * np.exp(-(z**2) / 2) / sqrt(2 * np.pi) * 4.5 * weight
    # half width that covers, when the mean is off by z/√n: a quantile of a noncentral chi-square
    half_squared = chndtrix(coverage, 1, z**2 / n)
    return _solve(
        lambda k: float((mass * chdtrc(n - 1, (n - 1) * half_squared / k**2)).sum()) if k > 0 else 0.0,
        confidence,
    )


@cache
def _nodes() -> tuple[FloatArray, FloatArray]:
    """Places and weights of the Gauss-Legendre rule: found once, as that takes eigenvalues."""
    node, weight = np.polynomial.legendre.leggauss(100)
    return node, weight


def _solve(covers: Callable[[float], float], confidence: float) -> float:
    from scipy.optimize import brentq

    low, high = -8.0, 8.0
    while covers(low) > confidence:
        low *= 2
    while covers(high) < confidence:
        high *= 2
    return float(brentq(lambda k: covers(k) - confidence, low, high, xtol=1e-12, rtol=1e-12))
