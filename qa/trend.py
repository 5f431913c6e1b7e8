"""Trend: does a size creep from build to build, how fast, and since when?"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, inf, sqrt

import numpy as np

from qa.arithmetic.change_points import ChangePoint, change_point
from qa.arithmetic.series import FloatArray, series, settled, share, varies
from qa.errors import CannotSay

__all__ = [
    "ChangePoint",
    "MannKendall",
    "StraightLine",
    "Summary",
    "TheilSen",
    "change_point",
    "mann_kendall",
    "straight_line",
    "summary",
    "theil_sen",
]

PURPOSE = "trend"
EXACT_BELOW = 10


@dataclass(frozen=True, slots=True)
class TheilSen:
    """Median slope (unit of y per unit of x) with its interval, and the line's value at x = 0.

    `low` and `high` are -inf and +inf where so few values allow no interval of that confidence.
    """

    slope: float
    low: float
    high: float
    intercept: float


@dataclass(frozen=True, slots=True)
class MannKendall:
    """Rises minus falls over all pairs, its normal score, and the two-sided chance of one as large."""

    s: int
    z: float
    p: float


@dataclass(frozen=True, slots=True)
class StraightLine:
    """Least-squares line with standard errors; `residual_sd` has n - 2 degrees of freedom."""

    slope: float
    intercept: float
    slope_error: float
    intercept_error: float
    residual_sd: float


@dataclass(frozen=True, slots=True)
class Summary:
    """Mean, standard deviation (n - 1) and correlation of neighbours; None where the values never vary."""

    n: int
    mean: float
    sd: float
    lag1: float | None


def theil_sen(x: Sequence[float], y: Sequence[float], confidence: float = 0.95) -> TheilSen:
    """Slope of `y` over `x` as the median of the slopes of all pairs: outliers hardly move it.

    The interval is exact below ten values without ties, from the order of the slopes; five values are the
    fewest that allow one at 95 %. Otherwise it is by the normal approximation, ties corrected. Raises
    CannotSay below three values, for lengths that differ, or where x never varies.
    Source: Sen 1968, Journal of the American Statistical Association 63.
    """
    from scipy.stats import theilslopes

    across, up = _pairs(x, y)
    level = share(confidence, purpose=PURPOSE, name="confidence")
    found = theilslopes(up, across, alpha=level)
    low, high = float(found.low_slope), float(found.high_slope)
    if up.size < EXACT_BELOW:
        outermost = _slopes_left_out(up.size, level)
        if outermost is None:
            low, high = -inf, inf
        elif not _tied(up) and not _tied(across):
            slopes = _pair_slopes(across, up)
            low, high = float(slopes[outermost]), float(slopes[-1 - outermost])
    return TheilSen(float(found.slope), low, high, float(found.intercept))


def mann_kendall(y: Sequence[float]) -> MannKendall:
    """Test `y`, in build order, for a rise or fall of any shape.

    Below ten values without ties p is exact; else normal with continuity and tie corrections, the score `z`.
    Values all the same show no trend: p = 1. The smallest p of three values is 0.33, of four 0.083, so a
    trend cannot show before the fifth. Neighbouring builds are taken to be independent. Raises CannotSay
    below three values. Source: Kendall 1975; Gilbert 1987, chapter 16.
    """
    from scipy.special import ndtr
    from scipy.stats import kendalltau

    data = settled(series(y, purpose=PURPOSE, least=3))
    n = data.size
    s = int(np.sign(data[None, :] - data[:, None])[np.triu_indices(n, 1)].sum())
    _, ties = np.unique(data, return_counts=True)
    variance = float(n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18
    z = float(np.sign(s) * (abs(s) - 1) / sqrt(variance)) if s else 0.0
    if n < EXACT_BELOW and not _tied(data):
        return MannKendall(s, z, float(kendalltau(np.arange(n), data, method="exact").pvalue))
    return MannKendall(s, z, min(1.0, 2 * float(ndtr(-abs(z)))))


def straight_line(x: Sequence[float], y: Sequence[float]) -> StraightLine:
    """Least-squares line of `y` on `x`, worked about the means so that large offsets cost no digits.

    Raises CannotSay below three values, for lengths that differ, or where x never varies.
    """
    across, up = _pairs(x, y)
    n, mean_x, mean_y = across.size, _mean(across), _mean(up)
    dx, dy = across - mean_x, up - mean_y
    square_x = fsum(dx * dx)
    slope = fsum(dx * dy) / square_x
    residual_sd = sqrt(fsum((dy - slope * dx) ** 2) / (n - 2))
    slope_error = residual_sd / sqrt(square_x)
    intercept_error = residual_sd * sqrt(1 / n + mean_x**2 / square_x)
    return StraightLine(slope, mean_y - slope * mean_x, slope_error, intercept_error, residual_sd)


def summary(values: Sequence[float]) -> Summary:
    """Mean, standard deviation and lag-1 autocorrelation of `values` in build order.

    Raises CannotSay below two values. Source: NIST StRD univariate, definitions.
    """
    data = series(values, purpose="summary", least=2)
    mean = _mean(data)
    away = data - mean
    away -= fsum(away) / data.size  # what rounding the mean left behind
    squares = fsum(away * away)
    if not varies(data):
        return Summary(data.size, mean, 0.0, None)
    return Summary(data.size, mean, sqrt(squares / (data.size - 1)), fsum(away[1:] * away[:-1]) / squares)


def _pairs(x: Sequence[float], y: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    across = series(x, purpose=f"{PURPOSE}, x", least=3)
    up = series(y, purpose=f"{PURPOSE}, y", least=3)
    if across.size != up.size:
        raise CannotSay(f"{PURPOSE}: x has {across.size} values and y {up.size}; give one y for every x")
    if not varies(across):
        raise CannotSay(f"{PURPOSE}: every x is {across[0]:g}, so there is nothing to have a trend over")
    return across, up


def _mean(data: FloatArray) -> float:
    return fsum(data) / data.size


def _tied(data: FloatArray) -> bool:
    return bool(np.unique(settled(data)).size < data.size)


def _pair_slopes(x: FloatArray, y: FloatArray) -> FloatArray:
    first, second = np.triu_indices(x.size, 1)
    return np.sort((y[second] - y[first]) / (x[second] - x[first]))


def _slopes_left_out(n: int, level: float) -> int | None:
    """How many of the sorted slopes of n values lie outside the interval at each end; None: too few values.

    The interval from the (m + 1)th smallest to the (m + 1)th largest slope misses when at most m of the
    pairs are discordant, or at most m concordant.
    """
    chances = np.cumsum(_inversion_counts(n)) / np.prod(np.arange(1.0, n + 1))
    left_out = int(np.searchsorted(chances, (1 - level) / 2 + 1e-12, side="right")) - 1
    return None if left_out < 0 else left_out


def _inversion_counts(n: int) -> FloatArray:
    """Of the n! orders of n values, how many have 0, 1, 2, ... discordant pairs."""
    counts = np.ones(1)
    for size in range(2, n + 1):
        counts = np.convolve(counts, np.ones(size))
    return counts
