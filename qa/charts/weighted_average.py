"""Exponentially weighted moving average chart: small lasting shifts."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from qa.arithmetic.series import FloatArray, number, positive, series
from qa.charts.signals import BEYOND_LIMITS, Signal
from qa.errors import CannotSay

PURPOSE = "EWMA chart"


@dataclass(frozen=True, slots=True)
class EwmaChart:
    """Smoothed values with their limits, each of shape (n,), in the unit of the values."""

    smoothed: FloatArray
    lower: FloatArray
    upper: FloatArray
    signals: list[Signal]


def ewma(
    values: Sequence[float],
    target: float,
    sigma: float,
    weight: float = 0.2,
    width: float = 3.0,
    steady_state: bool = False,
) -> EwmaChart:
    """Smooth `values`, starting from `target`, and compare them with limits `width` deviations wide.

    smoothed[i] = weight × values[i] + (1 - weight) × the one before; the start itself is not returned. The
    limits are exact for each point and widen to their final width; `steady_state` gives the final width
    throughout. Raises CannotSay for no values, a weight outside 0.001 to 1, or sigma or width not above 0.
    Source: NIST/SEMATECH e-Handbook 6.3.2.4.
    """
    data = series(values, purpose=PURPOSE)
    start = number(target, purpose=PURPOSE, name="target")
    spread = positive(sigma, purpose=PURPOSE, name="sigma")
    reach = positive(width, purpose=PURPOSE, name="width")
    share = number(weight, purpose=PURPOSE, name="weight")
    if not 0.001 <= share <= 1:
        raise CannotSay(f"{PURPOSE}: weight must lie between 0.001 and 1, not {weight!r}")

    steps = accumulate(data, lambda before, value: share * value + (1 - share) * before, initial=start)
    smoothed = np.array(list(steps)[1:])
    age = np.full(data.size, np.inf) if steady_state else np.arange(1, data.size + 1)
    half = reach * spread * np.sqrt(share / (2 - share) * (1 - (1 - share) ** (2 * age)))
    outside = np.flatnonzero(np.abs(smoothed - start) > half)
    signals = [Signal(int(i), BEYOND_LIMITS) for i in outside]
    return EwmaChart(smoothed, start - half, start + half, signals)
