"""Patterns over the builds that a cause may leave: a step, a spell, a creep, a creep put right."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np

from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from qa.arithmetic.series import FloatArray

Shape = Literal["throughout", "step", "creep"]
LONGEST = 60
SHORTEST_CREEP = 4


@dataclass(frozen=True, slots=True, eq=False)
class Patterns:
    """Patterns[p] over n builds, each 0 outside the builds first[p] to last[p] and at most 1 within.

    A step is 1 there, a creep rises evenly to 1 at its last build. `parameters` counts what a pattern is
    free in: its amount, and each build it begins or ends at.
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

    def shape(self, index: int) -> Shape:
        if self.creep[index]:
            return "creep"
        return "throughout" if self.parameters[index] == 1 else "step"


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
