"""Which readings each cause may have moved, laid side by side, and what every pattern varies in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from qa.causes.panel import Candidate, Kind, Panel, candidates
from qa.drift.patterns import LEAST_ROOM, Patterns, patterns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from qa.arithmetic.series import FloatArray

FEWEST_ALONE = 3  # one or two builds off in one series are outliers, not a cause
FEWEST_TOGETHER = 3  # series that must move alike to convict what they share, or all where it has fewer


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Which readings each candidate may have moved, laid side by side: one column a candidate and series.

    `touches`[n, K]; column k is of series `column_of`[k]; candidate c owns the columns from `starts`[c].
    `room`[P, K] is what a pattern varies within a series; 0 where it may not be asked of it. `asked`[P] is
    the place of each pattern among all those there are. `plain` are the candidates whose amounts are known,
    without a pattern.
    """

    patterns: Patterns
    asked: NDArray[np.intp]
    scanned: tuple[Candidate, ...]
    plain: tuple[Candidate, ...]
    touches: FloatArray
    column_of: NDArray[np.intp]
    starts: NDArray[np.intp]
    room: FloatArray
    penalty: FloatArray

    @property
    def sizes(self) -> NDArray[np.intp]:
        """How many columns each scanned candidate has."""
        return np.diff([*self.starts, self.column_of.size])

    def only(self, kept: Sequence[int]) -> Design:
        """The same of some of the scanned candidates, without the patterns that none of them is asked."""
        spans = [np.arange(self.starts[c], self.starts[c] + self.sizes[c]) for c in kept]
        columns = np.concatenate([np.empty(0, int), *spans])
        asked = np.asarray((self.room[:, columns] > 0).any(axis=1))
        return Design(
            self.patterns.only(asked),
            self.asked[asked],
            tuple(self.scanned[c] for c in kept),
            (),
            self.touches[:, columns],
            self.column_of[columns],
            np.cumsum([0, *(self.sizes[c] for c in kept)])[:-1],
            self.room[np.ix_(asked, columns)],
            self.penalty[asked],
        )


def design(panel: Panel) -> Design:
    """Lay out every candidate of a panel of 2 to 60 builds."""
    found = candidates(panel)
    scanned = tuple(item for item in found if item.scan)
    shapes = patterns(len(panel.builds))
    columns = [np.flatnonzero(item.touches.any(axis=0)) for item in scanned]
    touches = np.hstack([np.empty((len(panel.builds), 0))] + [
        item.touches[:, own] for item, own in zip(scanned, columns, strict=True)
    ]).astype(float)  # fmt: skip
    column_of = np.concatenate([np.empty(0, int), *columns])
    starts = np.cumsum([0, *(own.size for own in columns)])[:-1]
    room = _room(shapes, touches, seen(panel)[column_of])
    alone = np.repeat([own.size == 1 for own in columns], [own.size for own in columns])
    reach = shapes.within(touches)
    left = np.where(shapes.creep[:, None], reach, np.minimum(reach, seen(panel)[column_of] - reach))
    room[(left < FEWEST_ALONE) & alone] = 0.0
    room[_too_few(room, starts)] = 0.0
    of_bench = np.repeat([item.kind == "bench" for item in scanned], [own.size for own in columns])
    room[np.ix_(shapes.creep | (shapes.parameters > 2), of_bench)] = 0.0  # a way of working changes once
    plain = tuple(item for item in found if not item.scan)
    penalty = _penalty(shapes.parameters, len(panel.builds))
    every = np.arange(len(shapes))
    return Design(shapes, every, scanned, plain, touches, column_of, starts, room, penalty)


def _too_few(room: FloatArray, starts: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Patterns[P, K] that part too few of a candidate's series: a part just begun convicts no caliper."""
    if not starts.size:
        return np.zeros(room.shape, bool)
    sizes = np.diff([*starts, room.shape[1]])
    reached = np.add.reduceat((room > 0).astype(int), starts, axis=1)
    return np.asarray(np.repeat(reached < np.minimum(sizes, FEWEST_TOGETHER), sizes, axis=1))


def seen(panel: Panel) -> NDArray[np.int_]:
    """How many readings each series has, [J]."""
    return np.asarray(np.isfinite(panel.deviations).sum(axis=0))


def _room(shapes: Patterns, touches: FloatArray, seen: NDArray[np.int_]) -> FloatArray:
    """What each pattern varies in each column, told once for all that touch the same builds."""
    alike, which = np.unique(np.vstack([touches, seen]), axis=1, return_inverse=True)
    touches, each = alike[:-1], np.maximum(alike[-1], 1)
    room = shapes.squares(touches) - shapes.sums(touches) ** 2 / each
    return np.asarray(np.where(room > LEAST_ROOM, room, 0.0)[:, which])


def _penalty(parameters: NDArray[np.int_], n: int) -> FloatArray:
    """Akaike's cost of free parameters with its correction for few builds (Hurvich and Tsai 1989)."""
    free = np.asarray(parameters, float)
    return np.asarray(2 * free + 2 * free * (free + 1) / np.maximum(n - free - 1, 0.5))


def by_kind(design: Design) -> dict[Kind, Design]:
    """The scanned candidates of each kind apart, in their order."""
    kinds = [item.kind for item in design.scanned]
    return {
        kind: design.only([c for c, own in enumerate(kinds) if own == kind]) for kind in dict.fromkeys(kinds)
    }
