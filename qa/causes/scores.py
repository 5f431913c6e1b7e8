"""How well every pattern of every cause explains a panel, all at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from qa.causes.panel import Candidate, Kind, Panel, candidates
from qa.drift.patterns import Patterns, patterns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from qa.arithmetic.series import FloatArray

FEWEST_ALONE = 3  # one or two builds off in one series are outliers, not a cause
FEWEST_TOGETHER = 3  # series that must move alike to convict what they share, or all where it has fewer


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Which readings each candidate may have moved, laid side by side: one column a candidate and series.

    `touches`[n, K]; column k is of series `column_of`[k]; candidate c owns the columns from `starts`[c].
    `room`[P, K] is what a pattern varies within a series; 0 where it may not be asked of it.
    `plain` are the candidates whose amounts are known, without a pattern.
    """

    patterns: Patterns
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
            tuple(self.scanned[c] for c in kept),
            (),
            self.touches[:, columns],
            self.column_of[columns],
            np.cumsum([0, *(self.sizes[c] for c in kept)])[:-1],
            self.room[np.ix_(asked, columns)],
            self.penalty[asked],
        )


@dataclass(frozen=True, slots=True)
class Score:
    """One candidate with its best pattern (None where its amounts are known): the gain and the amount.

    `power` is how much twice the log likelihood rises; `gain` is that less what the pattern's free
    parameters cost by the small-sample Akaike criterion. `error` is the standard error of `amount` (mm;
    for the room's air a share of the full movement).
    """

    candidate: Candidate
    pattern: int | None
    power: float
    gain: float
    amount: float
    error: float


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
    room = _room(shapes, touches, np.isfinite(panel.deviations).sum(axis=0)[column_of])
    alone = np.repeat([own.size == 1 for own in columns], [own.size for own in columns])
    reach = (shapes.rows > 0).astype(float) @ touches
    left = np.where(shapes.creep[:, None], reach, np.minimum(reach, _seen(panel)[column_of] - reach))
    room[(left < FEWEST_ALONE) & alone] = 0.0
    room[_too_few(room, starts)] = 0.0
    of_bench = np.repeat([item.kind == "bench" for item in scanned], [own.size for own in columns])
    room[np.ix_(shapes.creep | (shapes.parameters > 2), of_bench)] = 0.0  # a way of working changes once
    plain = tuple(item for item in found if not item.scan)
    penalty = _penalty(shapes.parameters, len(panel.builds))
    return Design(shapes, scanned, plain, touches, column_of, starts, room, penalty)


def _too_few(room: FloatArray, starts: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Patterns[P, K] that part too few of a candidate's series: a part just begun convicts no caliper."""
    if not starts.size:
        return np.zeros(room.shape, bool)
    sizes = np.diff([*starts, room.shape[1]])
    reached = np.add.reduceat((room > 0).astype(int), starts, axis=1)
    return np.asarray(np.repeat(reached < np.minimum(sizes, FEWEST_TOGETHER), sizes, axis=1))


def _seen(panel: Panel) -> NDArray[np.int_]:
    return np.asarray(np.isfinite(panel.deviations).sum(axis=0))


def _room(shapes: Patterns, touches: FloatArray, seen: NDArray[np.int_]) -> FloatArray:
    total = shapes.rows @ touches
    room = shapes.rows**2 @ touches - total**2 / np.maximum(seen, 1)
    return np.where(room > 1e-9, room, 0.0)


def _penalty(parameters: NDArray[np.int_], n: int) -> FloatArray:
    """Akaike's cost of free parameters with its correction for few builds (Hurvich and Tsai 1989)."""
    free = np.asarray(parameters, float)
    return np.asarray(2 * free + 2 * free * (free + 1) / np.maximum(n - free - 1, 0.5))


@dataclass(frozen=True, slots=True, eq=False)
class Scatter:
    """The sum of squares of each series about its mean, total[J], and how many builds it has, seen[J].

    A series that never varies is held at a hundred-millionth of a square millimetre.
    """

    total: FloatArray
    seen: FloatArray


def scatter(panel: Panel, left: FloatArray) -> Scatter:
    """The scatter of what is left[n, J], centred and 0 where missing."""
    return Scatter(np.maximum((left**2).sum(axis=0), 1e-8), _seen(panel).astype(float))


def _rise(share: FloatArray) -> FloatArray:
    """How far twice the log likelihood of one build rises when a share of the sum of squares is explained."""
    return np.asarray(-np.log1p(-np.minimum(share, 1 - 1e-12)))


def power(design: Design, left: FloatArray, by: Scatter) -> tuple[FloatArray, FloatArray]:
    """How far twice the log likelihood rises, and the amount, of every pattern[P, candidates].

    Every series has a spread of its own, unknown; series of one candidate share the amount, taken at the
    spreads they have without it.
    """
    of = design.column_of
    pull = design.patterns.rows @ (design.touches * left[:, of])
    weights = (by.seen / by.total)[of]
    pulls = np.add.reduceat(pull * weights, design.starts, axis=1)
    rooms = np.add.reduceat(design.room * weights, design.starts, axis=1)
    amount = np.divide(pulls, rooms, out=np.zeros_like(pulls), where=rooms > 0)
    each = np.repeat(amount, design.sizes, axis=1)
    share = each * (2 * pull - each * design.room) / by.total[of]
    return np.add.reduceat(by.seen[of] * _rise(share), design.starts, axis=1), amount


def by_kind(design: Design) -> dict[Kind, Design]:
    """The scanned candidates of each kind apart."""
    kinds = [item.kind for item in design.scanned]
    return {
        kind: design.only([c for c, own in enumerate(kinds) if own == kind]) for kind in sorted(set(kinds))
    }


def greatest_gains(own: Design, lefts: FloatArray, by: Scatter) -> FloatArray:
    """The greatest gain of any candidate of one kind in each of several panels lefts[b, n, J] of one scatter.

    As `power`, but many panels at a time in single precision, and no more than the greatest takes.
    """
    many, n, of = len(lefts), lefts.shape[1], own.column_of
    if not own.penalty.size:
        return np.full(many, -np.inf)  # too few builds to ask anything of it
    read = (own.touches * lefts[:, :, of]).astype(np.float32).transpose(1, 0, 2).reshape(n, -1)
    pull = (own.patterns.rows.astype(np.float32) @ read).reshape(len(own.penalty), many, -1)
    room, total, seen = own.room.astype(np.float32), by.total[of], by.seen[of]
    if own.sizes.max() > 1:
        return _greatest_together(own, pull, room, total, seen)
    share = np.divide(pull**2, room[:, None], out=np.zeros_like(pull), where=room[:, None] > 0)
    costs = np.unique(own.penalty)
    most = [_rise(share[own.penalty == cost].max(axis=0) / total) * seen - cost for cost in costs]
    return np.asarray(np.maximum.reduce(most).max(axis=1))


def _greatest_together(
    own: Design, pull: NDArray[np.float32], room: NDArray[np.float32], total: FloatArray, seen: FloatArray
) -> FloatArray:
    weights = (seen / total).astype(np.float32)
    rooms = np.add.reduceat(room * weights, own.starts, axis=1)[:, None]
    pulls = np.add.reduceat(pull * weights, own.starts, axis=2)
    amount = np.divide(pulls, rooms, out=np.zeros_like(pulls), where=rooms > 0)
    each = np.repeat(amount, own.sizes, axis=2)
    share = each * (2 * pull - each * room[:, None]) / total
    gains = np.add.reduceat(seen * _rise(share), own.starts, axis=2) - own.penalty[:, None, None]
    return np.asarray(gains.max(axis=(0, 2)))


def best(design: Design, left: FloatArray, by: Scatter) -> list[Score]:
    """Every candidate with its best pattern, the most gain first."""
    found = [_known(item, left, by, float(design.penalty.min())) for item in design.plain]
    if design.scanned:
        strength, amount = power(design, left, by)
        gain = strength - design.penalty[:, None]
        for c, (item, p) in enumerate(zip(design.scanned, gain.argmax(axis=0), strict=True)):
            size, rises = float(amount[p, c]), float(strength[p, c])
            error = abs(size) / np.sqrt(rises) if rises > 0 else np.inf
            found.append(Score(item, int(p), rises, float(gain[p, c]), size, float(error)))
    return sorted(found, key=lambda score: -score.gain)


def _known(item: Candidate, left: FloatArray, by: Scatter, cost: float) -> Score:
    amounts = _amounts(item)
    seen = np.maximum(item.touches.sum(axis=0), 1)
    centred = np.where(item.touches, amounts - amounts.sum(axis=0) / seen, 0.0)
    pull, room = (centred * left).sum(axis=0), (centred**2).sum(axis=0)
    weights = by.seen / by.total
    total = float(room @ weights)
    amount = float(pull @ weights) / total if total > 0 else 0.0
    if amount <= 0:  # wood does not shrink in damp air
        return Score(item, None, 0.0, -cost, 0.0, float("inf"))
    rises = float((by.seen * _rise(amount * (2 * pull - amount * room) / by.total)).sum())
    error = amount / np.sqrt(rises) if rises > 0 else np.inf
    return Score(item, None, rises, rises - cost, amount, float(error))


def _amounts(item: Candidate) -> FloatArray:
    return np.zeros(item.touches.shape) if item.amounts is None else item.amounts


def effect(design: Design, score: Score) -> FloatArray:
    """What a score's cause would have added to every reading[n, J]."""
    item = score.candidate
    if score.pattern is None:
        return _amounts(item) * score.amount
    return np.asarray(item.touches * design.patterns.rows[score.pattern][:, None] * score.amount)


def again(design: Design, score: Score, left: FloatArray, by: Scatter) -> float:
    """Power the same pattern of the same cause has in what is left."""
    if score.pattern is None:
        return _known(score.candidate, left, by, 0.0).power
    row = score.candidate.touches * design.patterns.rows[score.pattern][:, None]
    room = (row**2).sum(axis=0) - row.sum(axis=0) ** 2 / np.maximum(by.seen, 1)
    pull, weights = (row * left).sum(axis=0), by.seen / by.total
    total = float(room @ weights)
    amount = float(pull @ weights) / total if total > 0 else 0.0
    return float((by.seen * _rise(amount * (2 * pull - amount * room) / by.total)).sum())
