"""Patterns over the builds that a cause may leave: a step, a spell, a creep, a creep put right."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal, TypeVar

import numpy as np

from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from qa.arithmetic.series import FloatArray

Shape = Literal["throughout", "step", "creep"]
Some = TypeVar("Some", np.float32, np.float64)
LONGEST = 60
SHORTEST_CREEP = 4
DIGITS = 6
"""Gains alike to so many decimals differ by the rounding of arithmetic alone: the first of them is taken."""
PIECE = 2**16  # numbers worked on at a time: 256 kB in single precision, as the cache of a processor holds
LEAST_ROOM = 1e-9  # a pattern that varies at all varies by 1e-4 or more; what is below is rounding


@dataclass(frozen=True, slots=True, eq=False)
class Patterns:
    """Patterns[p] over n builds, each 0 outside the builds first[p] to last[p] and at most 1 within.

    A step is 1 there, a creep rises evenly to 1 at its last build; steps come first. `parameters` counts
    what a pattern is free in: its amount, and each build it begins or ends at.
    """

    rows: FloatArray
    first: NDArray[np.int_]
    last: NDArray[np.int_]
    creep: NDArray[np.bool_]
    parameters: NDArray[np.int_]

    def __len__(self) -> int:
        return len(self.rows)

    def only(self, which: NDArray[np.bool_]) -> Patterns:
        """Some of the patterns."""
        return Patterns(
            self.rows[which], self.first[which], self.last[which], self.creep[which], self.parameters[which]
        )

    def within(self, values: FloatArray) -> FloatArray:
        """The sum of values[n, ...] from the first to the last build of each pattern, [P, ...]."""
        sums = _running(values)
        return np.asarray(sums[self.last + 1] - sums[self.first])

    def pieces(self, values: NDArray[Some]) -> Iterator[tuple[slice, NDArray[Some]]]:
        """`rows @ values` of values[n, ...], as many patterns at a time as a cache holds: which, and theirs.

        By running sums S (summation by parts): a step from a to b is S[b + 1] - S[a], a creep S[b + 1] less
        the mean of S[a] to S[b]. A product of matrices would start threads that cost more than they save.
        """
        exact = _running(values)
        exact -= exact.mean(axis=0)  # what all share falls out of every difference, and with it much rounding
        sums, of_sums = exact.astype(values.dtype), _running(exact).astype(values.dtype)
        after = self.last + 1
        steps: int = len(self) - int(self.creep.sum())
        length = (after - self.first).astype(values.dtype).reshape(-1, *[1] * (values.ndim - 1))
        at_once: int = max(1, PIECE // max(1, values[0].size))
        starts = [*range(0, steps, at_once), *range(steps, len(self), at_once), len(self)]
        for rows in map(slice, starts, starts[1:]):
            found = sums[after[rows]]
            if rows.start < steps:
                found -= sums[self.first[rows]]
            else:
                mean = of_sums[after[rows]]
                mean -= of_sums[self.first[rows]]
                mean /= length[rows]
                found -= mean
            yield rows, found

    def sums(self, values: NDArray[Some]) -> NDArray[Some]:
        """`rows @ values` of values[n, ...], shape [P, ...]."""
        return np.concatenate([found for _, found in self.pieces(values)])

    def squares(self, values: FloatArray) -> FloatArray:
        """`rows**2 @ values` of values[n, K], shape [P, K]: a creep is its builds' places times itself."""
        place = np.arange(1.0, len(values) + 1)[:, None]
        total, placed = self.sums(values), self.sums(place * values)
        first, length = self.first[:, None], (self.last - self.first + 1)[:, None]
        return np.where(self.creep[:, None], (placed - first * total) / length, total)

    def least_left(self, values: NDArray[Some], room: FloatArray, price: FloatArray) -> NDArray[Some]:
        """The least share of a sum of squares any pattern leaves, times its price, [...].

        `values`[n, ...] are at unit length. `room`[P, ...] is what each pattern varies, 0 where it may not be
        asked, and `price`[P, ...] at least 1.
        """
        scale = np.divide(price, room, out=np.zeros_like(room), where=room > 0).astype(values.dtype)
        cost = price.astype(values.dtype)
        most = np.full(values.shape[1:], -np.inf, values.dtype)
        for rows, found in self.pieces(values):
            found *= found
            found *= scale[rows]
            found -= cost[rows]
            np.maximum(most, found.max(axis=0), out=most)
        return -most

    def other_side(self, index: int) -> int | None:
        """The step over all the builds that a step from the first build, or to the last, leaves out."""
        first, last, newest = int(self.first[index]), int(self.last[index]), self.rows.shape[1] - 1
        if self.creep[index] or (first > 0) == (last < newest):
            return None
        span = (last + 1, newest) if first == 0 else (0, first - 1)
        found = np.flatnonzero(~self.creep & (self.first == span[0]) & (self.last == span[1]))
        return int(found[0]) if found.size else None

    def shape(self, index: int) -> Shape:
        if self.creep[index]:
            return "creep"
        return "throughout" if self.parameters[index] == 1 else "step"


def rise(share: NDArray[Some]) -> NDArray[Some]:
    """How far twice the log likelihood of one build rises when a share of the sum of squares is explained.

    Of normal readings with a spread unknown, -log(1 - share); a perfect fit is held just below 1.
    """
    most = 1 - max(1e-12, float(np.finfo(share.dtype).eps))
    return -np.log1p(-np.minimum(share, most))


def _running(values: NDArray[np.floating]) -> FloatArray:
    """Sums of the values before each place and of all, [n + 1, ...]."""
    sums = np.zeros((len(values) + 1, *values.shape[1:]))
    np.cumsum(values, axis=0, out=sums[1:])
    return sums


@lru_cache(maxsize=16)
def patterns(builds: int) -> Patterns:
    """Every pattern over that many builds, 2 to 60: throughout, steps and creeps from any build to any other.

    A creep takes at least four builds. CannotSay for another count: judge the newest 60.
    """
    if not 2 <= builds <= LONGEST:
        raise CannotSay(f"patterns: 2 to {LONGEST} builds can be searched, not {builds}; take the newest")
    spans = [(a, b) for a in range(builds) for b in range(a, builds)]
    creeps = [(a, b) for a, b in spans if b - a + 1 >= SHORTEST_CREEP]
    first, last = np.array(spans + creeps).T
    creep = np.arange(first.size) >= len(spans)
    place = np.arange(builds)
    inside = (place >= first[:, None]) & (place <= last[:, None])
    rise = (place - first[:, None] + 1) / (last - first + 1)[:, None]
    rows = np.where(inside, np.where(creep[:, None], rise, 1.0), 0.0)
    ends = (first > 0).astype(int) + (last < builds - 1)
    return Patterns(rows, first, last, creep, 1 + ends)
