"""How well every pattern of every cause explains a panel, all at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from qa.causes_panel import Candidate, Panel, candidates
from qa.drift_patterns import Patterns, patterns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from qa.series import FloatArray

FEWEST_ALONE = 3  # one or two builds off in one series are outliers, not a cause


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
    plain = tuple(item for item in found if not item.scan)
    penalty = _penalty(shapes.parameters, len(panel.builds))
    return Design(shapes, scanned, plain, touches, column_of, starts, room, penalty)


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
class Weighing:
    """Weights[J], one over the variance of each series, and what each pattern then varies[P, candidates]."""

    weights: FloatArray
    room: FloatArray


def weighing(design: Design, spread: FloatArray) -> Weighing:
    """Weigh every series by its standard deviation spread[J]."""
    weights = spread**-2.0
    return Weighing(weights, np.add.reduceat(design.room * weights[design.column_of], design.starts, axis=1))


def felt(design: Design, left: FloatArray, weights: FloatArray) -> FloatArray:
    """What each candidate's readings add up to by build[n, candidates]."""
    return np.asarray(
        np.add.reduceat((design.touches * (left * weights)[:, design.column_of]), design.starts, axis=1)
    )


def power(design: Design, left: FloatArray, by: Weighing) -> tuple[FloatArray, FloatArray]:
    """Power and amount[P, candidates] of every pattern; left[n, J] is centred, 0 where missing."""
    pulls = design.patterns.rows @ felt(design, left, by.weights)
    amount = np.divide(pulls, by.room, out=np.zeros_like(pulls), where=by.room > 0)
    return pulls * amount, amount


def best(design: Design, left: FloatArray, by: Weighing) -> list[Score]:
    """Every candidate with its best pattern, the most gain first."""
    found = [_known(item, left, by.weights, float(design.penalty.min())) for item in design.plain]
    if design.scanned:
        strength, amount = power(design, left, by)
        gain = strength - design.penalty[:, None]
        for c, (item, p) in enumerate(zip(design.scanned, gain.argmax(axis=0), strict=True)):
            size = amount[p, c]
            error = abs(size) / np.sqrt(strength[p, c]) if strength[p, c] > 0 else np.inf
            found.append(
                Score(item, int(p), float(strength[p, c]), float(gain[p, c]), float(size), float(error))
            )
    return sorted(found, key=lambda score: -score.gain)


def _known(item: Candidate, left: FloatArray, weights: FloatArray, cost: float) -> Score:
    amounts = _amounts(item)
    seen = np.maximum(item.touches.sum(axis=0), 1)
    centred = np.where(item.touches, amounts - amounts.sum(axis=0) / seen, 0.0)
    pull = float((centred * left * weights).sum())
    room = float((centred**2 * weights).sum())
    if room <= 0 or pull <= 0:  # wood does not shrink in damp air
        return Score(item, None, 0.0, -cost, 0.0, float("inf"))
    return Score(item, None, pull**2 / room, pull**2 / room - cost, pull / room, room**-0.5)


def _amounts(item: Candidate) -> FloatArray:
    return np.zeros(item.touches.shape) if item.amounts is None else item.amounts


def effect(design: Design, score: Score) -> FloatArray:
    """What a score's cause would have added to every reading[n, J]."""
    item = score.candidate
    if score.pattern is None:
        return _amounts(item) * score.amount
    return np.asarray(item.touches * design.patterns.rows[score.pattern][:, None] * score.amount)


def again(design: Design, score: Score, left: FloatArray, by: Weighing) -> float:
    """Power the same pattern of the same cause has in what is left."""
    if score.pattern is None:
        return _known(score.candidate, left, by.weights, 0.0).power
    c = next(i for i, item in enumerate(design.scanned) if item is score.candidate)
    own = (score.candidate.touches * left * by.weights).sum(axis=1)
    room = float(by.room[score.pattern, c])
    return float(design.patterns.rows[score.pattern] @ own) ** 2 / room if room > 0 else 0.0
