"""The shape of a change: a step, a spell or a creep, between which builds, and whether it is one at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qa.arithmetic.series import FloatArray, series
from qa.drift.patterns import LONGEST, Patterns, Shape, patterns
from qa.errors import CannotSay

FEWEST = 5
SHUFFLES = 999
_AT_ONCE = 48
_SEED = 20_240_504
_INSIDE = 3.84  # twice the drop of log likelihood at the ends of a 95 % interval of one parameter


@dataclass(frozen=True, slots=True)
class Change:
    """The likeliest change of a series: indices `first` to `last` (None: it lasts), `amount` at its most.

    `first` lies between `low` and `high` with about 95 % confidence. `p` is the chance of one as clear in
    the same values in any other order.
    """

    shape: Shape
    first: int
    low: int
    high: int
    last: int | None
    amount: float
    p: float


def changes(values: Sequence[Sequence[float] | FloatArray], shuffles: int = SHUFFLES) -> list[Change | None]:
    """The likeliest change of each series of `values`, in build order; None where there is nothing to tell.

    Nothing can be told of fewer than five values or equal ones. The newest 60 are judged. Steps and spells
    of fewer than three builds count as outliers. CannotSay where a value is not a number.
    """
    found: list[Change | None] = [None] * len(values)
    data = [series(one, purpose="change", least=0) for one in values]
    for n in {one.size for one in data if one.size >= FEWEST}:
        own = [j for j, one in enumerate(data) if one.size == n and np.ptp(one) > 0]
        if own:
            rows = np.array([data[j][-LONGEST:] for j in own])
            for j, change in zip(own, _of_rows(rows, shuffles), strict=True):
                found[j] = change and _later(change, max(0, n - LONGEST))
    return found


def change(values: Sequence[float], shuffles: int = SHUFFLES) -> Change:
    """The likeliest change of one series; CannotSay below five values or where all are the same."""
    found = changes([values], shuffles)[0]
    if found is None:
        raise CannotSay(f"change: needs {FEWEST} or more values that differ, and there are {len(values)}")
    return found


def _later(change: Change, skipped: int) -> Change:
    last = None if change.last is None else change.last + skipped
    return Change(
        change.shape, change.first + skipped, change.low + skipped, change.high + skipped, last,
        change.amount, change.p,
    )  # fmt: skip


def _of_rows(rows: FloatArray, shuffles: int) -> list[Change | None]:
    n = rows.shape[1]
    shapes = patterns(n)
    centred = rows - rows.mean(axis=1, keepdims=True)
    scaled = centred / np.sqrt((centred**2).sum(axis=1, keepdims=True))
    basis, room = _basis(shapes, n)
    cost = np.where(room > 0, 2.0 * shapes.parameters, np.inf)
    gains = _gain((basis @ scaled.T) ** 2, n) - cost[:, None]
    p = _chance(shapes, basis, scaled, gains.max(axis=0), shuffles)
    return [_told(shapes, gains[:, j], centred[j], basis, room, float(p[j])) for j in range(len(rows))]


def _basis(shapes: Patterns, n: int) -> tuple[FloatArray, FloatArray]:
    """Patterns about their mean at unit length, and the length they had; 0 for those not asked."""
    centred = shapes.rows - shapes.rows.mean(axis=1, keepdims=True)
    room = (centred**2).sum(axis=1)
    inside = shapes.last - shapes.first + 1
    few = np.minimum(inside, np.where(shapes.creep, inside, n - inside)) < min(3, n // 2)
    room[few | (room < 1e-9)] = 0.0
    length = np.sqrt(np.where(room > 0, room, 1.0))
    return np.where(room[:, None] > 0, centred / length[:, None], 0.0), room


def _chance(
    shapes: Patterns, basis: FloatArray, scaled: FloatArray, best: FloatArray, shuffles: int
) -> FloatArray:
    """Share of shuffles of each row that gain as much somewhere; many at a time, in single precision."""
    n, random, count = scaled.shape[1], np.random.default_rng(_SEED), np.zeros(len(scaled))
    alike = [(free, basis[shapes.parameters == free].astype(np.float32)) for free in (1, 2, 3)]
    rows = scaled.astype(np.float32)
    for start in range(0, shuffles, _AT_ONCE):
        orders = [random.permutation(n) for _ in range(start, min(start + _AT_ONCE, shuffles))]
        mixed = np.concatenate([rows[:, order] for order in orders]).T
        most = [_gain(_most(some @ mixed), n) - 2.0 * free for free, some in alike]
        count += (np.maximum.reduce(most).reshape(len(orders), -1) >= best - 1e-4).sum(axis=0)
    return np.asarray((1 + count) / (1 + shuffles))


def _most(pull: npt.NDArray[np.float32]) -> FloatArray:
    return np.asarray(np.maximum(pull.max(axis=0, initial=0), -pull.min(axis=0, initial=0)) ** 2, float)


def _gain(explained: FloatArray, n: int) -> FloatArray:
    """How far twice the log likelihood rises when a share of the sum of squares is explained."""
    return np.asarray(-n * np.log1p(-np.minimum(explained, 1 - 1e-12)))


def _told(
    shapes: Patterns, gains: FloatArray, row: FloatArray, basis: FloatArray, room: FloatArray, p: float
) -> Change | None:
    if not np.isfinite(gains.max()):
        return None
    k = int(gains.argmax())
    near = (gains >= gains[k] - _INSIDE) & (shapes.creep == shapes.creep[k])
    firsts, n = shapes.first[near], row.size
    amount = float(basis[k] @ row / np.sqrt(room[k]))
    first, last = int(shapes.first[k]), int(shapes.last[k])
    if first == 0 and not shapes.creep[k]:  # a spell from the beginning: told as the step that ended it
        after = shapes.last[near & (shapes.first == 0)] + 1
        return Change("step", last + 1, int(after.min()), int(after.max()), None, -amount, p)
    ends = None if last == n - 1 else last
    return Change(shapes.shape(k), first, int(firsts.min()), int(firsts.max()), ends, amount, p)
