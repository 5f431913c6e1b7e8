"""The chart of one series, chosen for how few builds there are: self-starting, then against a baseline.

From the third build of a phase each is scored by those before it. Once eight stand they are the baseline of
an individuals chart and an EWMA, twenty when twenty have passed quietly. Limits allow for how little so few
builds tell of the centre and spread: with both charts together about 1 false alarm in 100 builds at rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Literal

import numpy as np

from qa.arithmetic.series import FloatArray, series
from qa.charts import RULES, Signal, ewma, run_rules, self_starting
from qa.errors import CannotSay

FEWEST, BASELINE, LONG_BASELINE = 3, 8, 20
WEIGHT = 0.25
_SINGLE = 0.9995  # of single values from a process at rest, how many lie below the upper limit
Phase = Literal["too few", "self-starting", "baseline"]
SINGLE = "one build beyond its limit"
SMOOTHED = "average beyond its limit"
SCORED = "far from those before it"


@dataclass(frozen=True, slots=True)
class Spread:
    """A standard deviation and the degrees of freedom behind it, those lent by sister series counted in."""

    sigma: float
    dof: float


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """One series charted, every array of shape (n,) in the unit of the values, NaN where nothing can be said.

    `lower` and `upper` are for single values, `smoothed` with its own limits the moving average. `signals`
    are of values beyond them; `patterns` are what else looks unlike chance (Nelson's rules) and is no alarm.
    `starts` are the first builds of each phase (0, and where a stated fix sets a new baseline); `why` says
    in words what cannot be charted.
    """

    values: FloatArray
    center: FloatArray
    sigma: FloatArray
    lower: FloatArray
    upper: FloatArray
    smoothed: FloatArray
    smoothed_lower: FloatArray
    smoothed_upper: FloatArray
    signals: tuple[Signal, ...]
    patterns: tuple[Signal, ...]
    starts: tuple[int, ...]
    phases: tuple[Phase, ...]
    why: str

    @property
    def alarms(self) -> tuple[Signal, ...]:
        """The first signal of each run of signalling builds."""
        at = {signal.index for signal in self.signals}
        return tuple(signal for signal in _first_each(self.signals) if signal.index - 1 not in at)


def chart(values: Sequence[float], fixes: Sequence[int] = (), lent: Spread | None = None) -> Chart:
    """Chart `values` in build order; `fixes` are the indices of the first build after each stated fix.

    `lent` is the spread that sister series show: it steadies the baseline's own by its degrees of freedom.
    CannotSay where a value is not a number; too few or equal values give a chart that says so.
    """
    data = series(values, purpose="drift chart", least=0)
    starts = tuple(sorted({0, *(i for i in fixes if 0 < i < data.size)}))
    pieces = [_piece(data[a:b], lent) for a, b in zip(starts, [*starts[1:], data.size], strict=True)]

    def joined(name: str) -> FloatArray:
        return np.concatenate([getattr(piece, name) for piece in pieces])

    def shifted(name: str) -> tuple[Signal, ...]:
        return tuple(
            Signal(signal.index + start, signal.rule)
            for start, piece in zip(starts, pieces, strict=True)
            for signal in getattr(piece, name)
        )

    why = next((piece.why for piece in reversed(pieces) if piece.why), "")
    phases = tuple(piece.phases[0] for piece in pieces)
    lines = [joined(name) for name in LINES]
    return _chart(data, lines, phases, shifted("signals"), shifted("patterns"), starts, why)


LINES = ("center", "sigma", "lower", "upper", "smoothed", "smoothed_lower", "smoothed_upper")


def _chart(
    data: FloatArray,
    lines: Sequence[FloatArray],
    phases: tuple[Phase, ...],
    signals: tuple[Signal, ...] = (),
    patterns: tuple[Signal, ...] = (),
    starts: tuple[int, ...] = (0,),
    why: str = "",
) -> Chart:
    center, sigma, lower, upper, smoothed, low, high = lines
    return Chart(
        data, center, sigma, lower, upper, smoothed, low, high, signals, patterns, starts, phases, why
    )


def _blank(n: int) -> list[FloatArray]:
    return [np.full(n, np.nan) for _ in LINES]


def limit_width(dof: float) -> float:
    """Half width of the average's limits, in its own standard deviations, for a spread of `dof`.

    Found by simulation: with the limits for single values, 1 alarm in 100 builds at rest after a baseline
    of 8 or 20 (tests/benchmarks/test_simulation_study.py repeats it).
    """
    return 2.46 + 4 / dof + 4.7 / dof**2


def steadied(own: float, dof: float, lent: Spread | None) -> Spread:
    """A standard deviation of `dof` steadied by the lent one, weighed by degrees of freedom.

    Source: Smyth 2004, Statistical Applications in Genetics and Molecular Biology 3(1), moderated variance.
    """
    if lent is None or lent.dof <= 0:
        return Spread(own, dof)
    variance = (dof * own**2 + lent.dof * lent.sigma**2) / (dof + lent.dof)
    return Spread(sqrt(variance), dof + lent.dof)


def _piece(data: FloatArray, lent: Spread | None) -> Chart:
    """One phase, from its first build or a fix to the next fix."""
    if data.size < FEWEST:
        short = FEWEST - data.size
        why = f"needs {short} more build{'s' if short > 1 else ''} to chart"
        return _chart(data, _blank(data.size), ("too few",), why=why)
    if np.ptp(data) <= 0:
        why = f"all {data.size} values are the same: no spread to judge by; read with a finer step"
        return _chart(data, _blank(data.size), ("too few",), why=why)
    if data.size < BASELINE or np.ptp(data[:BASELINE]) <= 0:
        return _starting(data)
    return _against_baseline(data, lent)


def _starting(data: FloatArray) -> Chart:
    """Every build against those before it: limits are where the next would be called far."""
    lines = _blank(data.size)
    signals, why = _early(data, lines)
    return _chart(data, lines, ("self-starting",), signals, why=why)


def _early(data: FloatArray, lines: Sequence[FloatArray]) -> tuple[tuple[Signal, ...], str]:
    """Fill in the first builds of a phase and give their signals."""
    from scipy.special import ndtr, stdtrit

    center, sigma, lower, upper, *_ = lines
    for i in range(2, min(data.size, BASELINE)):
        before = data[:i]
        spread = float(before.std(ddof=1))
        if np.ptp(before) <= 0:
            continue
        reach = float(stdtrit(i - 1, ndtr(3.0))) * spread * sqrt(1 + 1 / i)
        center[i], sigma[i] = before.mean(), spread
        if i > 2:  # two values before tell next to nothing: their limits would dwarf the chart
            lower[i], upper[i] = center[i] - reach, center[i] + reach
    try:
        scored = self_starting(data[:BASELINE].tolist())
    except CannotSay as error:
        return (), str(error)
    return tuple(Signal(signal.index, SCORED) for signal in scored.signals), ""


def _against_baseline(data: FloatArray, lent: Spread | None) -> Chart:
    lines = _blank(data.size)
    early, _ = _early(data, lines)
    found = list(early)
    base = BASELINE
    quiet = _watch(data[: min(data.size, LONG_BASELINE)], BASELINE, BASELINE, lines, lent)
    found += quiet
    if data.size > LONG_BASELINE:
        base = BASELINE if quiet else LONG_BASELINE
        found += _watch(data, base, LONG_BASELINE, lines, lent)
    spread = steadied(float(data[:base].std(ddof=1)), base - 1, lent)
    middle = float(data[:base].mean())
    shapes = run_rules(data.tolist(), middle, spread.sigma, RULES[1:]) if spread.sigma > 0 else []
    return _chart(data, lines, ("baseline",), tuple(found), tuple(_first_each(shapes)))


def _watch(
    data: FloatArray, base: int, after: int, lines: Sequence[FloatArray], lent: Spread | None
) -> list[Signal]:
    """Chart data[after:] against its first `base` values; the average runs from the end of the baseline."""
    from scipy.special import stdtrit

    if data.size <= after or np.ptp(data[:base]) <= 0:
        return []
    center, sigma, lower, upper, smoothed, smoothed_lower, smoothed_upper = lines
    middle = float(data[:base].mean())
    spread = steadied(float(data[:base].std(ddof=1)), base - 1, lent)
    age = np.arange(1, data.size - base + 1)
    fade = (1 - WEIGHT) ** age
    error = spread.sigma * np.sqrt(WEIGHT / (2 - WEIGHT) * (1 - fade**2) + (1 - fade) ** 2 / base)
    averages = ewma(data[base:].tolist(), middle, spread.sigma, WEIGHT).smoothed
    reach = float(stdtrit(spread.dof, _SINGLE)) * spread.sigma * sqrt(1 + 1 / base)
    new, old = slice(after, data.size), slice(after - base, None)
    center[new], sigma[new] = middle, spread.sigma
    lower[new], upper[new] = middle - reach, middle + reach
    smoothed[new] = averages[old]
    smoothed_lower[new] = middle - limit_width(spread.dof) * error[old]
    smoothed_upper[new] = middle + limit_width(spread.dof) * error[old]
    return _beyond(data, after, lines)


def _beyond(data: FloatArray, after: int, lines: Sequence[FloatArray]) -> list[Signal]:
    _, _, lower, upper, smoothed, smoothed_lower, smoothed_upper = lines
    found = []
    for i in range(after, data.size):
        if not smoothed_lower[i] <= smoothed[i] <= smoothed_upper[i]:
            found.append(Signal(i, SMOOTHED))
        if not lower[i] <= data[i] <= upper[i]:
            found.append(Signal(i, SINGLE))
    return found


def _first_each(signals: Sequence[Signal]) -> list[Signal]:
    """One signal an index, the first named."""
    found: dict[int, Signal] = {}
    for signal in signals:
        found.setdefault(signal.index, signal)
    return [found[index] for index in sorted(found)]
