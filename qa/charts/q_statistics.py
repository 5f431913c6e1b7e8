"""Self-starting charts: each value judged by those before it, from the third build on."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qa.arithmetic.series import FloatArray, positive, rounding_of, series
from qa.charts.cumulative_sum import CusumChart, sum_signals, two_sums
from qa.charts.signals import BEYOND_LIMITS, Signal
from qa.errors import CannotSay

PURPOSE = "self-starting chart"
_SMALLEST = float(np.finfo(np.float64).tiny)


@dataclass(frozen=True, slots=True)
class SelfStartingChart:
    """Standard normal scores of shape (n,), as long as nothing changes.

    The first `start` entries of `q` are NaN, for nothing can be said of them: draw `q[index]` at `index`.
    """

    q: FloatArray
    signals: list[Signal]
    start: int

    @property
    def index(self) -> list[int]:
        """Indices of the values that have a score."""
        return list(range(self.start, self.q.size))


def self_starting(values: Sequence[float], width: float = 3.0) -> SelfStartingChart:
    """Score each value by the mean and standard deviation of those before it, both unknown at the outset.

    The score of value r is the normal equivalent of Student's t, r - 2 degrees of freedom, of
    sqrt((r - 1) / r) × (value - mean before) / standard deviation before; independent and standard normal
    while values are independent and normal with one mean and one spread. Signals are scores beyond ±`width`.

    Scoring starts at the third value, or later where the values so far are all the same and show no spread
    (a coarse step); that value itself then has no score. Scores are held within ±38, where doubles end.
    A value that signals is still learnt from, so a lasting shift fades from `q` within a few builds: for
    those use `self_starting_cusum`.

    Raises CannotSay for fewer than three values, or values with no spread before the last.
    Source: Quesenberry 1991, Journal of Quality Technology 23(3), case of unknown mean and variance.
    """
    reach = positive(width, purpose=PURPOSE, name="width")
    scores, start = _scores(values)
    signals = [Signal(int(i), BEYOND_LIMITS) for i in np.flatnonzero(np.abs(scores) > reach)]
    return SelfStartingChart(scores, signals, start)


def self_starting_cusum(values: Sequence[float], slack: float = 0.5, decision: float = 5.0) -> CusumChart:
    """Cumulative sums of the self-starting scores: small lasting shifts from the third build on.

    Sums are of shape (n,), zero until scoring starts. Raises CannotSay as `self_starting` and `cusum` do.
    Source: Hawkins 1987, The Statistician 36 (from memory).
    """
    limit = positive(decision, purpose=PURPOSE, name="decision")
    scores, _ = _scores(values)
    high, low = two_sums(np.nan_to_num(scores), slack)
    return CusumChart(high, low, list(sum_signals(high, low, limit)))


def _scores(values: Sequence[float]) -> tuple[FloatArray, int]:
    from scipy.special import ndtri, stdtr

    data = series(values, purpose=PURPOSE, least=3)
    mean, deviation = _before(data)
    start = 2 + int(np.argmax(deviation[2:] > 0))
    if not deviation[start] > 0:
        raise CannotSay(
            f"{PURPOSE}: the values before the last are all the same, so they show no spread to judge by; "
            "read with a finer step or wait for more builds"
        )
    r = np.arange(start + 1, data.size + 1)
    t = np.sqrt((r - 1) / r) * (data[start:] - mean[start:]) / deviation[start:]
    tail = np.maximum(stdtr(r - 2, -np.abs(t)), _SMALLEST)
    scores = np.full(data.size, np.nan)
    scores[start:] = -np.sign(t) * ndtri(tail)
    return scores, start


def _before(data: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of the values before each one (Welford's recurrence); 0 where unknown."""
    mean, deviation = np.zeros(data.size), np.zeros(data.size)
    level, squares = 0.0, 0.0
    least, most = np.minimum.accumulate(data), np.maximum.accumulate(data)
    spread = most - least > rounding_of(np.maximum(np.abs(least), np.abs(most)))
    for i, value in enumerate(data[:-1], start=1):
        step = value - level
        level += step / i
        squares += step * (value - level)
        mean[i] = level
        if i > 1 and spread[i - 1]:
            deviation[i] = np.sqrt(squares / (i - 1))
    return mean, deviation
