"""Cumulative sum chart: small lasting shifts, and when they began."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from qa.arithmetic.series import FloatArray, number, positive, series
from qa.charts.signals import HIGH_SUM_BEYOND_LIMIT, LOW_SUM_BEYOND_LIMIT, Signal
from qa.errors import CannotSay

PURPOSE = "CUSUM chart"


@dataclass(frozen=True, slots=True)
class CusumChart:
    """Sums of what exceeds the slack on either side, each of shape (n,), never negative, in sigma units."""

    high: FloatArray
    low: FloatArray
    signals: list[Signal]

    def onset(self, signal: Signal) -> int:
        """Index of the first value that fed the sum behind `signal`: the likeliest start of the shift."""
        sums = self.high if signal.rule == HIGH_SUM_BEYOND_LIMIT else self.low
        at_rest = np.flatnonzero(sums[: signal.index] == 0)
        return int(at_rest[-1]) + 1 if at_rest.size else 0


def cusum(
    values: Sequence[float],
    target: float,
    sigma: float,
    slack: float = 0.5,
    decision: float = 5.0,
    head_start: float = 0.0,
) -> CusumChart:
    """Add up how far `values` run above and below `target`, beyond `slack` standard deviations each.

    `slack`, `decision` and `head_start` (the value both sums begin from, to catch a process that starts off
    target) are in sigma units. A signal is every point whose sum is above `decision`. Raises CannotSay for
    no values, or sigma or decision not above 0, or slack or head start below 0.
    Source: NIST/SEMATECH e-Handbook 6.3.2.3; head start after Lucas and Crosier 1982 (from memory).
    """
    data = series(values, purpose=PURPOSE)
    start = number(target, purpose=PURPOSE, name="target")
    spread = positive(sigma, purpose=PURPOSE, name="sigma")
    limit = positive(decision, purpose=PURPOSE, name="decision")
    scores = (data - start) / spread
    high, low = two_sums(scores, slack, head_start)
    return CusumChart(high, low, list(sum_signals(high, low, limit)))


def two_sums(scores: FloatArray, slack: float, head_start: float = 0.0) -> tuple[FloatArray, FloatArray]:
    """Return the high and low sums of standardised `scores`, each of shape (n,)."""
    allowance = number(slack, purpose=PURPOSE, name="slack")
    first = number(head_start, purpose=PURPOSE, name="head start")
    if allowance < 0 or first < 0:
        raise CannotSay(f"{PURPOSE}: slack and head start must not be below 0")

    def one_side(signed: FloatArray) -> FloatArray:
        steps = accumulate(signed, lambda total, score: max(0.0, total + score - allowance), initial=first)
        return np.array(list(steps)[1:], dtype=np.float64)

    return one_side(scores), one_side(-scores)


def sum_signals(high: FloatArray, low: FloatArray, limit: float) -> Iterator[Signal]:
    """Yield a signal for every point whose high or low sum is above `limit`."""
    for i in np.flatnonzero((high > limit) | (low > limit)):
        if high[i] > limit:
            yield Signal(int(i), HIGH_SUM_BEYOND_LIMIT)
        if low[i] > limit:
            yield Signal(int(i), LOW_SUM_BEYOND_LIMIT)
