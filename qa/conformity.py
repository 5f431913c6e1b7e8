"""Whether a measured value conforms, given how uncertain it is (JCGM 106:2012, ISO 14253-1).

Limits are inclusive. The measured quantity is taken as normal about the value read, with no knowledge
from before. A limit may be absent: None, or an infinity in arrays of limits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from qa import finite
from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

NANOMETRE = 1e-6  # in millimetres
CHUNK = 16_384  # readings judged at a time: small enough to stay in a core's cache


class Verdict(StrEnum):
    """The words of a verdict."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does not conform"
    UNDECIDED = "undecided"
    NOT_MEASURED = "not measured"


NAMES = (Verdict.UNDECIDED, Verdict.CONFORMS, Verdict.DOES_NOT_CONFORM)


@dataclass(frozen=True, slots=True, eq=False)
class Verdicts:
    """Verdicts on many readings: codes (int8, shape [n]) are places in `names`."""

    codes: NDArray[np.int8]
    names: tuple[Verdict, ...] = NAMES

    def words(self) -> list[Verdict]:
        """The verdicts in words, one per reading."""
        return [self.names[code] for code in self.codes.tolist()]


def conformance_probability(
    value: float, u: float, lower: float | None = None, upper: float | None = None
) -> float:
    """Probability that the quantity lies within its limits.

    value, u (standard uncertainty) and limits in one unit, usually mm. Where u is zero the answer is 0 or 1,
    compared after rounding to the nanometre, so that no binary fraction decides. CannotSay for numbers that
    are not finite, a negative u, reversed limits or no limit at all. Source: JCGM 106:2012 clause 7.
    """
    low, high = _limits(lower, upper)
    reading = np.array([finite.number(value, "value")])
    spread = np.array([finite.not_negative(u, "standard uncertainty")])
    return float(_probability(reading, spread, np.array([low]), np.array([high]))[0])


def decide(
    value: float, u: float, lower: float | None, upper: float | None, confidence: float = 0.95
) -> Verdict:
    """Verdict on one value: "conforms", "does not conform" or "undecided".

    Conforms where the conformance probability is at least `confidence` (0.5 < confidence < 1), does not where
    it is at most 1 - confidence. With one limit in play that is a guard band of 1.645 u at 95 %, on both
    sides of the limit. CannotSay as for conformance_probability. Source: JCGM 106:2012 8.3, ISO 14253-1:2017.
    """
    level = _confidence(confidence)
    pc = conformance_probability(value, u, lower, upper)
    return NAMES[int(_codes(np.array([pc]), level)[0])]


def guard_band(u: float, confidence: float = 0.95) -> float:
    """Width w by which one limit is moved inwards to accept at `confidence`: a normal quantile times u.

    Source: JCGM 106:2012 8.3; 1.645 u at 95 % as in ISO 14253-1:2017.
    """
    from scipy.special import ndtri

    return float(ndtri(_confidence(confidence))) * finite.not_negative(u, "standard uncertainty")


def acceptance_limits(
    lower: float | None, upper: float | None, u: float, confidence: float = 0.95
) -> tuple[float | None, float | None]:
    """The values read between which decide() answers "conforms"; None where there is no limit.

    With two limits, both tails count: the guard is wider than guard_band() where u is not small beside the
    tolerance. CannotSay where no value could be accepted, or as for decide().
    """
    low, high = _limits(lower, upper)
    width = high - low
    guard = guard_band(u, confidence)
    if math.isfinite(width) and u > 0:
        guard = _two_sided_guard(width, u, confidence)
    return (None if lower is None else low + guard, None if upper is None else high - guard)


def decide_many(
    values: ArrayLike,
    u: ArrayLike,
    lower: ArrayLike | None,
    upper: ArrayLike | None,
    confidence: float = 0.95,
) -> Verdicts:
    """Verdicts on values[n], the same as decide() gives one by one.

    u, lower and upper are single numbers or have shape [n]; an infinite limit is none. CannotSay as for
    decide(), or where shapes differ.
    """
    level = _confidence(confidence)
    columns = _columns(values, u, lower, upper)
    codes = np.empty(len(columns[0]), dtype=np.int8)
    unsure = [
        start + _guarded(codes[start : start + CHUNK], _cut(columns, slice(start, start + CHUNK)), level)
        for start in range(0, len(codes), CHUNK)
    ]
    rest = np.concatenate([*unsure, np.empty(0, dtype=np.intp)])
    if rest.size:
        codes[rest] = _codes(_probability(*_cut(columns, rest)), level)
    return Verdicts(codes)


def _limits(lower: float | None, upper: float | None) -> tuple[float, float]:
    low = -math.inf if lower is None else float(lower)
    high = math.inf if upper is None else float(upper)
    _check_limits(np.asarray(low), np.asarray(high))
    return low, high


def _check_limits(low: NDArray[np.float64], high: NDArray[np.float64]) -> None:
    if np.isnan(low).any() or np.isnan(high).any():
        raise CannotSay("a limit is not a number; leave it out (None) where there is none")
    if (low > high).any():
        raise CannotSay(f"limits are reversed: lower {low.max():g} above upper {high.min():g}")
    if (np.isinf(low) & np.isinf(high)).any():
        raise CannotSay("no limit to judge by: give a lower limit, an upper limit or both")
    if (low == math.inf).any() or (high == -math.inf).any():
        raise CannotSay("a lower limit of plus infinity, or an upper one of minus infinity, admits nothing")


def _confidence(confidence: float) -> float:
    if not 0.5 < confidence < 1:
        raise CannotSay(f"confidence must lie between 0.5 and 1, got {confidence}")
    return float(confidence)


def _probability(
    v: NDArray[np.float64], u: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.float64]:
    from scipy.special import ndtr

    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        a, b = (low - v) / u, (high - v) / u
        # Both limits above the value: work in the lower tail, where differences keep their digits.
        a, b = np.where(a > 0, -b, a), np.where(a > 0, -a, b)
        pc = ndtr(b) - ndtr(a)
        nm = np.rint(v / NANOMETRE)
        inside = (nm >= np.rint(low / NANOMETRE)) & (nm <= np.rint(high / NANOMETRE))
    return np.where(u == 0, inside.astype(np.float64), pc)


def _codes(pc: NDArray[np.float64], level: float) -> NDArray[np.int8]:
    return np.where(pc >= level, 1, np.where(pc <= 1 - level, 2, 0)).astype(np.int8)


def _two_sided_guard(width: float, u: float, confidence: float) -> float:
    from scipy.optimize import brentq
    from scipy.special import ndtr

    def excess(guard: float) -> float:
        return float(ndtr((width - guard) / u) - ndtr(-guard / u)) - confidence

    if excess(width / 2) < 0:
        raise CannotSay(
            f"a standard uncertainty of {u:g} is too large for a tolerance {width:g} wide: no reading could "
            f"be accepted at {confidence:.0%}; measure better or widen the tolerance"
        )
    return float(brentq(excess, 0.0, width / 2, xtol=1e-12))


Columns = tuple["NDArray[np.float64]", "NDArray[np.float64]", "NDArray[np.float64]", "NDArray[np.float64]"]


def _columns(values: ArrayLike, u: ArrayLike, lower: ArrayLike | None, upper: ArrayLike | None) -> Columns:
    v, spread = finite.array(values, "values"), finite.array(u, "standard uncertainties")
    low = np.asarray(-math.inf if lower is None else lower, dtype=np.float64)
    high = np.asarray(math.inf if upper is None else upper, dtype=np.float64)
    if v.ndim != 1 or any(column.shape not in ((), v.shape) for column in (spread, low, high)):
        raise CannotSay(
            "values must be one row; uncertainties and limits one number each or as many as values"
        )
    if (spread < 0).any():
        raise CannotSay("a standard uncertainty is negative")
    _check_limits(low, high)
    return v, spread, low, high


def _cut(columns: Columns, rows: slice | NDArray[np.intp]) -> Columns:
    v, u, low, high = (column[rows] if column.ndim else column for column in columns)
    return v, u, low, high


def _guarded(codes: NDArray[np.int8], columns: Columns, level: float) -> NDArray[np.intp]:
    """Judge by guard bands into `codes`; return the places too near a band's edge to be sure of.

    Where a tolerance is wide beside u the far limit moves the probability by less than the margin kept, so
    the guard band and the probability give one answer.
    """
    from scipy.special import ndtri

    v, u, low, high = columns
    z = float(ndtri(level))
    narrow = high - low < (2 * z + 4) * u if level < 1 - 1e-9 else np.asarray(True)
    if narrow.all():
        return np.arange(len(v))
    inside = np.minimum(v - low, high - v)
    excess = np.abs(inside) - z * u
    sure = excess > 0
    np.add(sure.view(np.int8), (sure & (inside < 0)).view(np.int8), out=codes)
    near = np.abs(excess, out=excess) <= 2 * NANOMETRE + 1e-4 * u.max()
    if narrow.any():
        near |= narrow
    return np.flatnonzero(near)
