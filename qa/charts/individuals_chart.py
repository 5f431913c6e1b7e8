"""Individuals and moving range chart: one value per build."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from qa.arithmetic.series import FloatArray, series, varies
from qa.charts.signals import BEYOND_LIMITS, RANGE_BEYOND_LIMIT, Signal
from qa.errors import CannotSay

PURPOSE = "individuals chart"
# The constants as every table prints them; the exact ones are 1.12838 and 3.26653. Limits worked out
# elsewhere carry the printed ones, and agree with these to the last digit only with the same rounding.
D2 = 1.128
D4 = 3.267


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """Centre, standard deviation and three-sigma limits (unit of the values), and what lies outside.

    `moving_ranges` has shape (n - 1,): entry i is the step from value i to value i + 1. `baseline` is the
    number of values behind the limits.
    """

    center: float
    sigma: float
    lower: float
    upper: float
    moving_ranges: FloatArray
    range_center: float
    range_upper: float
    signals: list[Signal]
    baseline: int


def individuals(
    values: Sequence[float], baseline: int | slice | Sequence[float] | None = None
) -> IndividualsChart:
    """Chart single values against mean ± 3 × mean moving range / 1.128.

    `baseline` says which values set the limits: None all of them, an int n the first n, a slice those it
    picks, a sequence of numbers an earlier series of its own. Signals are every value of `values` strictly
    outside the limits, and every moving range above 3.267 × the mean moving range (index of its later value).

    Raises CannotSay for fewer than two values, or a baseline that never varies and so gives no spread.
    Source: NIST/SEMATECH e-Handbook 6.3.2.2.
    """
    data = series(values, purpose=PURPOSE, least=2)
    base = _baseline(data, baseline)
    range_center = float(np.abs(np.diff(base)).mean())
    center, sigma = float(base.mean()), range_center / D2
    if not varies(base):
        raise CannotSay(
            f"{PURPOSE}: all {base.size} baseline values are the same, so they show no spread to judge by; "
            "read with a finer step or wait for more builds"
        )
    lower, upper, range_upper = center - 3 * sigma, center + 3 * sigma, D4 * range_center
    ranges = np.abs(np.diff(data))
    outside = [Signal(int(i), BEYOND_LIMITS) for i in np.flatnonzero((data < lower) | (data > upper))]
    jumps = [Signal(int(i) + 1, RANGE_BEYOND_LIMIT) for i in np.flatnonzero(ranges > range_upper)]
    signals = sorted(outside + jumps, key=lambda signal: signal.index)
    return IndividualsChart(
        center, sigma, lower, upper, ranges, range_center, range_upper, signals, baseline=base.size
    )


def moving_range_relative_error(n: int) -> float:
    """Relative standard error of sigma taken from the mean moving range of `n` independent normal values.

    0.34 for 8 values, 0.17 for 30. Exact: neighbouring ranges share a value, so their covariance enters
    (E|XY| of two normals at correlation -1/2). Raises CannotSay below two values.
    """
    if n < 2:
        raise CannotSay(f"{PURPOSE}: a moving range needs two values, and there are {n}")
    mean_square = 4 / pi
    variance = 2 - mean_square
    covariance = mean_square * (sqrt(3) / 2 + pi / 12) - mean_square
    return sqrt(((n - 1) * variance + 2 * (n - 2) * covariance) / mean_square) / (n - 1)


def _baseline(data: FloatArray, baseline: int | slice | Sequence[float] | None) -> FloatArray:
    if baseline is None:
        return data
    if isinstance(baseline, (int, np.integer)):
        if not 2 <= int(baseline) <= data.size:
            raise CannotSay(f"{PURPOSE}: a baseline takes 2 to {data.size} of these values, not {baseline}")
        return data[: int(baseline)]
    if isinstance(baseline, slice):
        return series(data[baseline], purpose=f"{PURPOSE}, baseline", least=2)
    return series(baseline, purpose=f"{PURPOSE}, baseline", least=2)
