"""Guard bands over arrays of readings: the arithmetic under qa.conformity.

A column is one number (shape []) or one per value (shape [n]); an absent limit is an infinity.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from qa.arithmetic import finite
from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Columns = tuple[Floats, Floats, Floats, Floats]  # values[n], standard uncertainties, lower, upper limits

NANOMETRE = 1e-6  # in millimetres
CHUNK = 65_536  # readings judged at a time: few enough for the cache, enough to be worth a call


def check_limits(low: Floats, high: Floats) -> None:
    """CannotSay where a limit is not a number, limits are reversed, or there is none."""
    if np.isnan(low).any() or np.isnan(high).any():
        raise CannotSay("a limit is not a number; leave it out (None) where there is none")
    if (low > high).any():
        raise CannotSay(f"limits are reversed: lower {low.max():g} above upper {high.min():g}")
    if (np.isinf(low) & np.isinf(high)).any():
        raise CannotSay("no limit to judge by: give a lower limit, an upper limit or both")
    if (low == math.inf).any() or (high == -math.inf).any():
        raise CannotSay("a lower limit of plus infinity, or an upper one of minus infinity, admits nothing")


def probability(given: Columns) -> Floats:
    """Conformance probability of each value; 0 or 1 to the nanometre where its uncertainty is zero."""
    from scipy.special import ndtr

    v, u, low, high = given
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        a, b = (low - v) / u, (high - v) / u
        # Both limits above the value: work in the lower tail, where differences keep their digits.
        a, b = np.where(a > 0, -b, a), np.where(a > 0, -a, b)
        pc = ndtr(b) - ndtr(a)
        nm = np.rint(v / NANOMETRE)
        inside = (nm >= np.rint(low / NANOMETRE)) & (nm <= np.rint(high / NANOMETRE))
    return np.where(u == 0, inside.astype(np.float64), pc)


def codes_of(pc: Floats, level: float) -> NDArray[np.int8]:
    """Codes of conformance probabilities: 1 conforms, 2 does not, 0 undecided."""
    return np.where(pc >= level, 1, np.where(pc <= 1 - level, 2, 0)).astype(np.int8)


def columns(values: ArrayLike, u: ArrayLike, lower: ArrayLike, upper: ArrayLike) -> Columns:
    """Values[n], and uncertainties and limits that are one number each or [n]; CannotSay otherwise."""
    try:
        v, spread, low, high = (np.asarray(given, dtype=np.float64) for given in (values, u, lower, upper))
    except (TypeError, ValueError):
        raise CannotSay("values, uncertainties and limits must be numbers") from None
    if not spread.ndim and spread < 0:
        raise CannotSay("a standard uncertainty is negative")
    if v.ndim != 1 or any(column.shape not in ((), v.shape) for column in (spread, low, high)):
        raise CannotSay("values: one row; uncertainties and limits: one number each, or as many as values")
    if not (low.ndim or high.ndim):
        check_limits(low, high)
    return v, spread, low, high


def judge(given: Columns, level: float) -> NDArray[np.int8]:
    """Codes of the verdicts: guard bands where they are sure to be right, the probability elsewhere."""
    codes = np.empty(len(given[0]), dtype=np.int8)
    with np.errstate(over="ignore", invalid="ignore"):
        unsure = _guarded(codes, given, level)
    if unsure.size:
        codes[unsure] = codes_of(probability(_cut(given, unsure)), level)
    return codes


def _check_columns(given: Columns) -> None:
    v, u, low, high = given
    finite.array(v, "values")
    if (finite.array(u, "standard uncertainties") < 0).any():
        raise CannotSay("a standard uncertainty is negative")
    check_limits(low, high)


def _cut(given: Columns, rows: slice | NDArray[np.intp]) -> Columns:
    v, u, low, high = (column[rows] if column.ndim else column for column in given)
    return v, u, low, high


def _guarded(codes: NDArray[np.int8], given: Columns, level: float) -> NDArray[np.intp]:
    """Judge by guard bands into `codes`; return the places too near a band's edge to be sure of.

    Where a tolerance is wide beside u the far limit moves the probability by less than the margin kept, so
    the guard band and the probability give one answer. Reversed limits and what is not finite show in the
    numbers computed anyway, and are refused there.
    """
    from scipy.special import ndtri

    z = float(ndtri(level))
    wide = 2 * z + 4 if level < 1 - 1e-9 else 1e30
    size = min(CHUNK, len(codes))
    scratch = _Scratch(np.empty(size), np.empty(size), *(np.empty(size, np.bool_) for _ in range(3)))
    unsure = [np.empty(0, dtype=np.intp)]
    for start in range(0, len(codes), CHUNK):
        rows = slice(start, start + CHUNK)
        if start + CHUNK > len(codes):
            scratch = scratch.cut(len(codes) - start)
        near = _guarded_chunk(codes[rows], _cut(given, rows), z, wide, scratch)
        if near.size:
            unsure.append(start + near)
    return np.concatenate(unsure)


class _Scratch(NamedTuple):
    inside: Floats
    guard: Floats
    sure: NDArray[np.bool_]
    within: NDArray[np.bool_]
    below: NDArray[np.bool_]

    def cut(self, n: int) -> _Scratch:
        return _Scratch(self.inside[:n], self.guard[:n], self.sure[:n], self.within[:n], self.below[:n])


def _guarded_chunk(
    codes: NDArray[np.int8], given: Columns, z: float, wide: float, scratch: _Scratch
) -> NDArray[np.intp]:
    v, u, low, high = given
    inside, guard, sure, within, below = scratch
    most = _greatest(u)
    narrowest = float(high.min()) - float(low.max())  # quick, and enough for limits that are all alike
    if not narrowest >= wide * most:
        narrowest = float((high - low).min())
    np.subtract(v, low, out=inside)
    np.subtract(high, v, out=guard)
    np.minimum(inside, guard, out=inside)
    np.less(inside, 0, out=below)
    np.abs(inside, out=inside)
    np.subtract(inside, np.multiply(u, z, out=guard) if u.ndim else z * u, out=inside)
    margin = 2 * NANOMETRE + 1e-4 * most
    np.greater(inside, margin, out=sure)
    np.less(inside, -margin, out=within)
    if not (math.isfinite(most + float(inside.max())) and narrowest >= 0):
        _check_columns(given)
    np.logical_and(sure, below, out=below)
    np.add(sure.view(np.int8), below.view(np.int8), out=codes)
    near = np.equal(sure, within, out=within)
    if not narrowest >= wide * most:
        np.logical_or(near, high - low < wide * u, out=near)
    return near.nonzero()[0]


def _greatest(u: Floats) -> float:
    """The greatest uncertainty; not a number where one is negative or not finite.

    Read as whole numbers without a sign, those stand above every other: one pass finds the greatest and them.
    """
    if not u.ndim:
        return float(u)
    most = float(u.view(np.uint64).max().view(np.float64))
    return most if most > 0 else (float(u.max()) if u.min() >= 0 else math.nan)
