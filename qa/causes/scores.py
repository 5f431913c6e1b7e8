"""How well every pattern of every cause explains a panel, all at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from qa.causes.design import Design, seen
from qa.causes.panel import Candidate, Panel
from qa.drift.patterns import DIGITS, rise

if TYPE_CHECKING:
    from qa.arithmetic.series import FloatArray

LEAST_LEFT = 1e-7  # of a sum of squares, that single precision tells from nothing


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


@dataclass(frozen=True, slots=True, eq=False)
class Scatter:
    """The sum of squares of each series about its mean, total[J], and how many builds it has, seen[J].

    A series that never varies is held at a hundred-millionth of a square millimetre.
    """

    total: FloatArray
    seen: FloatArray


def scatter(panel: Panel, left: FloatArray) -> Scatter:
    """The scatter of what is left[n, J], centred and 0 where missing."""
    return Scatter(np.maximum((left**2).sum(axis=0), 1e-8), seen(panel).astype(float))


def power(design: Design, left: FloatArray, by: Scatter) -> tuple[FloatArray, FloatArray]:
    """How far twice the log likelihood rises, and the amount, of every pattern[P, candidates].

    Every series has a spread of its own, unknown; series of one candidate share the amount, taken at the
    spreads they have without it.
    """
    of = design.column_of
    pull = design.patterns.sums(design.touches * left[:, of])
    weights = (by.seen / by.total)[of]
    pulls = np.add.reduceat(pull * weights, design.starts, axis=1)
    rooms = np.add.reduceat(design.room * weights, design.starts, axis=1)
    amount = np.divide(pulls, rooms, out=np.zeros_like(pulls), where=rooms > 0)
    each = np.repeat(amount, design.sizes, axis=1)
    share = each * (2 * pull - each * design.room) / by.total[of]
    return np.add.reduceat(by.seen[of] * rise(share), design.starts, axis=1), amount


def greatest_gains(own: Design, lefts: FloatArray, by: Scatter) -> FloatArray:
    """The greatest gain of any candidate of one kind in each of several panels lefts[b, n, J] of one scatter.

    As `power`, but many panels at a time in single precision, and no more than the greatest takes.
    """
    if not own.penalty.size:
        return np.full(len(lefts), -np.inf)  # too few builds to ask anything of it
    total, seen = by.total[own.column_of], by.seen[own.column_of]
    read = own.touches[:, :, None] * lefts.transpose(1, 2, 0)[:, own.column_of]
    if own.sizes.max() == 1:
        return _greatest_alone(own, read, total, seen)
    spans = [slice(start, start + size) for start, size in zip(own.starts, own.sizes, strict=True)]
    most = [_greatest_together(own, read[:, k], own.room[:, k], total[k], seen[k]) for k in spans]
    return np.asarray(np.max(most, axis=0))


def _greatest_alone(own: Design, read: FloatArray, total: FloatArray, seen: FloatArray) -> FloatArray:
    """Of candidates of one series each: read[n, K, b], total[K] and seen[K]."""
    scaled = (read / np.sqrt(total)[:, None]).astype(np.float32)
    price = np.exp(own.penalty[:, None] / seen)
    left = own.patterns.least_left(scaled, own.room[:, :, None], price[:, :, None])
    return np.asarray((-seen[:, None] * np.log(np.maximum(left, LEAST_LEFT))).max(axis=0), float)


def _greatest_together(
    own: Design, read: FloatArray, room: FloatArray, total: FloatArray, seen: FloatArray
) -> FloatArray:
    """Of one candidate that moves several series alike: read[n, k, b], room[P, k], total[k] and seen[k]."""
    weights, most = seen / total, np.full(read.shape[2], -np.inf)
    pulled = (read * weights[:, None]).sum(axis=1, keepdims=True)
    both = np.hstack([2 * read / total[:, None], pulled]).astype(np.float32)
    rooms = (room * weights).sum(axis=1).astype(np.float32)[:, None, None]
    shares, each = (room / total).astype(np.float32)[:, :, None], seen.astype(np.float32)
    for rows, found in own.patterns.pieces(both):
        share, pulls, free = found[:, :-1], found[:, -1:], rooms[rows]
        amount = np.divide(pulls, free, out=np.zeros_like(pulls), where=free > 0)
        share -= amount * shares[rows]
        share *= amount
        rises = np.einsum("pkb,k->pb", rise(share), each)
        most = np.maximum(most, (rises - own.penalty[rows, None]).max(axis=0))
    return most


def best(design: Design, kinds: Iterable[Design], left: FloatArray, by: Scatter) -> list[Score]:
    """Every candidate with its best pattern, the most gain first; `kinds` is the design by kind.

    One kind at a time, as some are asked few patterns. Candidates too little was read of to ask any are not
    among them.
    """
    found = [_known(item, left, by, float(design.penalty.min())) for item in design.plain]
    for own in kinds:
        if not own.penalty.size:
            continue
        strength, amount = power(own, left, by)
        gain = strength - own.penalty[:, None]
        for c, (item, p) in enumerate(zip(own.scanned, gain.round(DIGITS).argmax(axis=0), strict=True)):
            size, rises = float(amount[p, c]), float(strength[p, c])
            error = abs(size) / np.sqrt(rises) if rises > 0 else np.inf
            found.append(Score(item, int(own.asked[p]), rises, float(gain[p, c]), size, float(error)))
    return sorted(found, key=lambda score: -round(score.gain, DIGITS))


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
    rises = float((by.seen * rise(amount * (2 * pull - amount * room) / by.total)).sum())
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
    return float((by.seen * rise(amount * (2 * pull - amount * room) / by.total)).sum())


def other_side(design: Design, score: Score, left: FloatArray, by: Scatter) -> Score | None:
    """The same step told by the builds it leaves out, which moved the other way, where that gains as much."""
    place = None if score.pattern is None else design.patterns.other_side(score.pattern)
    if place is None:
        return None
    other = replace(score, pattern=place, amount=-score.amount)
    return other if round(again(design, other, left, by) - score.power, DIGITS) >= 0 else None
