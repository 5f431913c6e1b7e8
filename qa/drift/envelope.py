"""A long series in few numbers to draw: bins with their least, mean and greatest, and what lies outside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from qa.arithmetic.series import FloatArray, Numbers, series
from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import NDArray

PURPOSE = "envelope"
BINS, MOST_OUTSIDE = 400, 1400
"""Together at most 3 x 400 + 1400 = 2600 points."""


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """Bins of neighbouring values, every array of shape (bins,); `first` and `last` are indices, inclusive.

    `outside` holds the indices of the values beyond their limits, each a point of its own. Where there are
    more than may be drawn (`thinned`) it holds the furthest above and below of each bin; `beyond` counts all.
    """

    first: NDArray[np.int_]
    last: NDArray[np.int_]
    least: FloatArray
    mean: FloatArray
    greatest: FloatArray
    outside: NDArray[np.int_]
    beyond: int

    @property
    def thinned(self) -> bool:
        return self.outside.size < self.beyond


def envelope(
    values: Numbers,
    lower: Numbers | None = None,
    upper: Numbers | None = None,
    bins: int = BINS,
    most_outside: int = MOST_OUTSIDE,
) -> Envelope:
    """Bin `values` of shape (n,) in their order; a series of no more values than bins keeps each as it is.

    `lower` and `upper` are the limits of each value, inclusive, NaN for none. CannotSay where a value is not
    finite, lengths differ, limits are reversed, or there are no bins.
    """
    data = series(values, purpose=PURPOSE, least=0)
    if bins < 1:
        raise CannotSay(f"{PURPOSE}: needs one or more bins, not {bins}")
    low, high = _limits(lower, data.size, -np.inf), _limits(upper, data.size, np.inf)
    if (low > high).any():
        raise CannotSay(f"{PURPOSE}: limits are reversed at index {int(np.argmax(low > high))}")
    edges = np.unique(np.linspace(0, data.size, min(bins, data.size) + 1).astype(int))
    first, last = edges[:-1], edges[1:] - 1
    if not data.size:
        nothing, none = np.array([], float), np.array([], int)
        return Envelope(none, none, nothing, nothing, nothing, none, 0)
    over = np.maximum(data - high, low - data)
    out = np.flatnonzero(over > 0)
    return Envelope(
        first,
        last,
        np.minimum.reduceat(data, first),
        np.clip(np.add.reduceat(data, first) / (last - first + 1), data.min(), data.max()),
        np.maximum.reduceat(data, first),
        out if out.size <= most_outside else _furthest(data, out, first, low, high, most_outside),
        int(out.size),
    )


def _limits(given: Numbers | None, n: int, none: float) -> FloatArray:
    """Limits as an array of shape (n,), infinite where there is none."""
    if given is None:
        return np.full(n, none)
    found = np.asarray(given, float)
    if found.shape != (n,):
        raise CannotSay(f"{PURPOSE}: {n} values cannot have {found.size} limits")
    return np.where(np.isnan(found), none, found)


def _furthest(
    data: FloatArray,
    out: NDArray[np.int_],
    first: NDArray[np.int_],
    low: FloatArray,
    high: FloatArray,
    most: int,
) -> NDArray[np.int_]:
    """The furthest above and the furthest below of each bin; of all those, the furthest `most`."""
    place = np.searchsorted(first, out, side="right")
    kept = [
        _first_of_each(place[side], out[side], by[side])
        for side, by in (
            (data[out] > high[out], data[out] - high[out]),
            (data[out] < low[out], low[out] - data[out]),
        )
    ]
    found = np.concatenate(kept)
    far = np.maximum(data[found] - high[found], low[found] - data[found])
    return np.sort(found[np.argsort(-far, kind="stable")[:most]])


def _first_of_each(place: NDArray[np.int_], index: NDArray[np.int_], far: FloatArray) -> NDArray[np.int_]:
    order = np.lexsort((-far, place))
    _, first = np.unique(place[order], return_index=True)
    return np.asarray(index[order][first])
