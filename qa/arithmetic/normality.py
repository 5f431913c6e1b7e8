"""Are values normal? A test and the points of a probability plot."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

import numpy as np

from qa.arithmetic.series import FloatArray, series, varies
from qa.errors import CannotSay

PURPOSE = "normality"
# p = exp(a + b A + c A²) or one minus it, by the corrected statistic A:
# D'Agostino and Stephens 1986, Goodness-of-Fit Techniques, Table 4.9 (from memory).
_TAILS = ((0.6, (1.2937, -5.709, 0.0186)), (0.34, (0.9177, -4.279, -1.38)))
_BULK = ((0.2, (-8.318, 42.796, -59.938)), (0.0, (-13.436, 101.14, -223.73)))


@dataclass(frozen=True, slots=True)
class Normality:
    """Anderson-Darling statistic and the chance `p` of one as large from normal values."""

    statistic: float
    p: float
    n: int


@dataclass(frozen=True, slots=True)
class ProbabilityPlot:
    """`ordered` values against standard normal `quantiles`, both shape (n,); r is their correlation."""

    quantiles: FloatArray
    ordered: FloatArray
    r: float


def anderson_darling(values: Sequence[float]) -> Normality:
    """Test normality with mean and standard deviation taken from the values.

    Few values can only show gross departures: a large p below about 20 values says little. Readings in
    coarse steps look less normal than the parts are. Raises CannotSay below five values or where all are
    the same. Source: NIST/SEMATECH e-Handbook 1.3.5.14; p after D'Agostino and Stephens 1986.
    """
    from scipy.special import log_ndtr

    data = _ordered(values)
    n = data.size
    z = (data - data.mean()) / data.std(ddof=1)
    rank = np.arange(1, n + 1)
    statistic = float(-n - ((2 * rank - 1) * (log_ndtr(z) + log_ndtr(-z[::-1]))).mean())
    return Normality(statistic, _chance(statistic * (1 + 0.75 / n + 2.25 / n**2)), n)


def probability_plot(values: Sequence[float]) -> ProbabilityPlot:
    """Points of a normal probability plot, at the medians of the order statistics.

    Raises CannotSay below five values or where all are the same.
    Source: NIST/SEMATECH e-Handbook 1.3.3.22 (Filliben's medians).
    """
    from scipy.special import ndtri

    data = _ordered(values)
    n = data.size
    medians = (np.arange(1, n + 1) - 0.3175) / (n + 0.365)
    medians[-1] = 0.5 ** (1 / n)
    medians[0] = 1 - medians[-1]
    quantiles = ndtri(medians)
    return ProbabilityPlot(quantiles, data, float(np.corrcoef(quantiles, data)[0, 1]))


def _ordered(values: Sequence[float]) -> FloatArray:
    data = np.sort(series(values, purpose=PURPOSE, least=5))
    if not varies(data):
        raise CannotSay(f"{PURPOSE}: all {data.size} values are the same; read with a finer step")
    return data


def _chance(corrected: float) -> float:
    held = min(corrected, 13.0)  # beyond, the fitted curve turns up again
    for above, (a, b, c) in _TAILS:
        if held >= above:
            return exp(a + b * held + c * held**2)
    for above, (a, b, c) in _BULK:
        if held > above:
            return 1 - exp(a + b * held + c * held**2)
    return 1.0
