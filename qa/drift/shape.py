"""The shape of a change: a step, a spell or a creep, between which builds, and whether it is one at all.

The likeliest pattern is the one that gains most in likelihood less what it is free in (Akaike 1974); how
often chance gains as much is counted by shuffling the builds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qa.arithmetic.series import FloatArray, series
from qa.drift.patterns import DIGITS, LEAST_ROOM, LONGEST, Patterns, Shape, patterns, rise
from qa.errors import CannotSay

FEWEST = 5
SHUFFLES = 999
_AT_ONCE = 100  # shuffles, which bounds the memory they take
_SEED = 20_240_504
_ROUNDING = 1e-6  # of single precision, 7e-7 at most as measured, so that another order as good counts
_NEARLY = 1 - 1e-5  # of unit length, so that a perfect fit leaves something too, and a plainer one less
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

    The newest 60 are judged. Nothing can be told of fewer than five values or equal ones. Steps and spells
    of fewer than three builds count as outliers. CannotSay where a value is not a number.
    """
    found: list[Change | None] = [None] * len(values)
    data = [series(one, purpose="change", least=0) for one in values]
    for n in {one.size for one in data if one.size >= FEWEST}:
        own = [j for j, one in enumerate(data) if one.size == n and np.ptp(one[-LONGEST:]) > 0]
        if own:
            rows = np.array([data[j][-LONGEST:] for j in own])
            for j, change in zip(own, _of_rows(rows, shuffles), strict=True):
                found[j] = _later(change, max(0, n - LONGEST))
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


def _of_rows(rows: FloatArray, shuffles: int) -> list[Change]:
    n = rows.shape[1]
    every = patterns(n)
    room = _room(every, n)
    shapes, room = every.only(room > 0), room[room > 0]
    centred = rows - rows.mean(axis=1, keepdims=True)
    scaled = centred / np.sqrt((centred**2).sum(axis=1, keepdims=True))
    gains = n * rise(shapes.sums(scaled.T) ** 2 / room[:, None]) - 2.0 * shapes.parameters[:, None]
    p = _chance(shapes, room, scaled, shuffles)
    return [_told(shapes, gains[:, j], centred[j], room, float(p[j])) for j in range(len(rows))]


def _room(shapes: Patterns, n: int) -> FloatArray:
    """How much each pattern varies about its mean, a sum of squares; 0 for those not asked."""
    room = ((shapes.rows - shapes.rows.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    inside = shapes.last - shapes.first + 1
    few = np.minimum(inside, np.where(shapes.creep, inside, n - inside)) < min(3, n // 2)
    return np.where(few | (room < LEAST_ROOM), 0.0, room)


def _chance(shapes: Patterns, room: FloatArray, scaled: FloatArray, shuffles: int) -> FloatArray:
    """Share of shuffles of each row that gain as much somewhere; many at a time, in single precision."""
    n, random, count = scaled.shape[1], np.random.default_rng(_SEED), np.zeros(len(scaled))
    price = np.exp(2.0 * shapes.parameters / n)
    columns = _NEARLY * scaled.T
    left, columns = shapes.least_left(columns, room[:, None], price[:, None]), columns.astype(np.float32)
    for start in range(0, shuffles, _AT_ONCE):
        orders = [random.permutation(n) for _ in range(start, min(start + _AT_ONCE, shuffles))]
        mixed = columns[np.array(orders).T]
        theirs = shapes.least_left(mixed, room[:, None, None], price[:, None, None])
        count += (theirs <= left + _ROUNDING).sum(axis=0)
    return np.asarray((1 + count) / (1 + shuffles))


def _told(shapes: Patterns, gains: FloatArray, row: FloatArray, room: FloatArray, p: float) -> Change:
    k = int(gains.round(DIGITS).argmax())  # so of a step and what it leaves out, the spell told below
    near = (gains >= gains[k] - _INSIDE) & (shapes.creep == shapes.creep[k])
    firsts, n = shapes.first[near], row.size
    amount = float(shapes.rows[k] @ row / room[k])
    first, last = int(shapes.first[k]), int(shapes.last[k])
    if first == 0 and not shapes.creep[k]:  # a spell from the beginning: told as the step that ended it
        after = shapes.last[near & (shapes.first == 0)] + 1
        return Change("step", last + 1, int(after.min()), int(after.max()), None, -amount, p)
    ends = None if last == n - 1 else last
    return Change(shapes.shape(k), first, int(firsts.min()), int(firsts.max()), ends, amount, p)
