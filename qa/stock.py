"""What to take off a part, where, and in how many passes. Wood can be taken off, never put back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from qa.arithmetic import finite
from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

HALF_NANOMETRE = 0.5e-6  # in millimetres; sizes closer than this are one size

Say = Literal["ready", "take off", "undersize", "out of reach"]
Limit = Literal["lower", "upper", "taper", "twist"]


@dataclass(frozen=True, slots=True)
class Shortfall:
    """The station furthest below the low limit: its index, and by how many mm."""

    index: int
    by: float


@dataclass(frozen=True, slots=True, eq=False)
class Removal:
    """What to take off, in mm.

    feasible: planing alone brings the part within its limits. aim: mean size once done; where not feasible,
    the smallest reading, the one even size still in the part. take_off[n]: per station, zero where not
    feasible. say: "ready" (nothing to do), "take off", "undersize" (a station is below the low limit) or
    "out of reach" (every station is large enough, yet no removal meets taper or twist). short: the worst
    station where undersize. binding: limits that the finished part just meets, and that cost wood.
    """

    feasible: bool
    aim: float
    take_off: Floats
    say: Say
    short: Shortfall | None = None
    binding: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True)
class Passes:
    """Passes to go: about `likely`, between `fewest` and `most` (90 %; most is None where it cannot be said).

    per_pass and spread: mean and standard deviation of what one pass took, in mm, over `logged` passes.
    """

    likely: int
    fewest: int
    most: int | None
    per_pass: float
    spread: float
    logged: int


def removal(
    points: ArrayLike,
    target: float,
    lower: float,
    upper: float,
    taper_limit: float | None = None,
    taper_target: float = 0.0,
    twist_limit: float | None = None,
    guard: float = 0.0,
) -> Removal:
    """The least to take off points[n, (x, y, size)] so that every size lies within lower..upper (mm).

    With taper_limit also |taper - taper_target| <= taper_limit, with twist_limit |twist| <= twist_limit, as
    qa.geometry has them. Among removals that take least in total, the one nearest to target is chosen. guard
    narrows both size limits, so that a finished size is not left on a limit; a station already inside the
    low guard is left alone. A linear programme over the stations. CannotSay for numbers that are not finite,
    limits or guard that leave no room, or stations that cannot tell taper or twist.
    """
    given = finite.table(points, "stations with sizes", 3)
    low, high = _room(target, lower, upper, guard)
    sizes = given[:, 2]
    least = float(sizes.min())
    if least < finite.number(lower, "lower limit") - HALF_NANOMETRE:
        short = Shortfall(int(sizes.argmin()), lower - least)
        return Removal(False, least, np.zeros(len(sizes)), "undersize", short)
    must = np.maximum(0.0, sizes - high)
    may = np.maximum(must, sizes - low)
    shape = _shape_limits(given, taper_limit, taper_target, twist_limit)
    take_off = _least(sizes, must, may, shape, target)
    if take_off is None:
        return Removal(False, least, np.zeros(len(sizes)), "out of reach")
    say: Say = "take off" if take_off.any() else "ready"
    binding = _binding(sizes - take_off, take_off, low, high, shape)
    return Removal(True, float((sizes - take_off).mean()), take_off, say, binding=binding)


def passes(sizes: ArrayLike, remaining: float) -> Passes | None:
    """Passes still to make to take off `remaining` mm, from sizes[k + 1] read before and after k passes.

    None for fewer than two passes logged, too few to tell a spread. The range is a 90 % prediction interval
    for what the passes to come take on average (Student's t). CannotSay for numbers that are not finite, a
    negative remaining, or a log that shows no wood coming off.
    """
    to_go = finite.not_negative(remaining, "what remains to take off")
    took = -np.diff(finite.vector(sizes, "sizes after each pass"))
    if len(took) < 2:
        return None
    mean, spread = float(took.mean()), float(took.std(ddof=1))
    if mean <= 0:
        raise CannotSay("by this log no wood comes off; check the iron or the abrasive, and the readings")
    if to_go <= HALF_NANOMETRE:
        return Passes(0, 0, 0, mean, spread, len(took))
    return _range(to_go, mean, spread, len(took))


def _range(to_go: float, mean: float, spread: float, logged: int) -> Passes:
    from qa.uncertainty import coverage_factor

    likely = _whole(to_go / mean)
    doubt = coverage_factor(logged - 1, 0.90) * spread * math.sqrt(1 / likely + 1 / logged)
    most = _whole(to_go / (mean - doubt)) if mean - doubt > 1e-3 * mean else None
    return Passes(likely, min(likely, _whole(to_go / (mean + doubt))), most, mean, spread, logged)


def _whole(count: float) -> int:
    return max(1, math.ceil(count - 1e-9))


def _room(target: float, lower: float, upper: float, guard: float) -> tuple[float, float]:
    finite.number(target, "target")
    inwards = finite.not_negative(guard, "guard")
    low, high = finite.number(lower, "lower limit") + inwards, finite.number(upper, "upper limit") - inwards
    if lower > upper:
        raise CannotSay(f"limits are reversed: lower {lower:g} above upper {upper:g}")
    if low > high + HALF_NANOMETRE:
        raise CannotSay(f"a guard of {guard:g} leaves no room between {lower:g} and {upper:g}")
    return low, max(low, high)


Shape = list[tuple["Limit", "Floats", float, float]]  # name, weights on the sizes, low, high


def _shape_limits(
    points: Floats, taper_limit: float | None, taper_target: float, twist_limit: float | None
) -> Shape:
    from qa.geometry import taper_weights, twist_weights

    shape: Shape = []
    if taper_limit is not None:
        slack, aim = (
            finite.not_negative(taper_limit, "taper limit"),
            finite.number(taper_target, "taper target"),
        )
        shape.append(("taper", taper_weights(points[:, :2]), aim - slack, aim + slack))
    if twist_limit is not None:
        slack = finite.not_negative(twist_limit, "twist limit")
        shape.append(("twist", twist_weights(points[:, :2]), -slack, slack))
    return shape


def _least(sizes: Floats, must: Floats, may: Floats, shape: Shape, target: float) -> Floats | None:
    if all(low - HALF_NANOMETRE <= w @ (sizes - must) <= high + HALF_NANOMETRE for _, w, low, high in shape):
        return must
    n = len(sizes)
    rows = [np.vstack([w, -w]) for _, w, _, _ in shape]
    room = [np.array([w @ sizes - low, high - w @ sizes]) for _, w, low, high in shape]
    total = _solve(np.ones(n), np.vstack(rows), np.concatenate(room), must, may)
    return None if total is None else _nearest(sizes, total, rows, room, must, may, target)


def _nearest(
    sizes: Floats,
    total: Floats,
    rows: list[Floats],
    room: list[Floats],
    must: Floats,
    may: Floats,
    target: float,
) -> Floats:
    """Of the removals as small as `total`, the one nearest to target: worst station first, then the sum."""
    n = len(sizes)
    off, each, worst = np.eye(n), np.eye(n), np.ones((n, 1))
    nothing, column = np.zeros((n, n)), np.zeros((n, 1))
    above = sizes - target
    shape = np.vstack(rows)
    matrix = np.vstack(
        [
            np.hstack([-off, -each, column]),
            np.hstack([off, -each, column]),
            np.hstack([nothing, each, -worst]),
            np.hstack([shape, np.zeros((len(shape), n + 1))]),
            np.hstack([np.ones((1, n)), np.zeros((1, n + 1))]),
        ]
    )
    bound = np.concatenate([-above, above, np.zeros(n), *room, [total.sum()]])
    cost = np.concatenate([np.zeros(n), np.ones(n), [float(n)]])
    lows = np.concatenate([must, np.zeros(n + 1)])
    highs = np.concatenate([may, np.full(n + 1, np.inf)])
    found = _solve(cost, matrix, bound, lows, highs)
    return total if found is None else found[:n]


def _solve(cost: Floats, matrix: Floats, bound: Floats, low: Floats, high: Floats) -> Floats | None:
    from scipy.optimize import linprog

    bounds = list(zip(low.tolist(), high.tolist(), strict=True))
    result = linprog(cost, A_ub=matrix, b_ub=bound, bounds=bounds, method="highs")
    if result.status == 2:  # no such removal
        return None
    if result.x is None or result.status != 0:
        raise CannotSay(f"the least removal could not be computed: {result.message}")
    return np.clip(result.x, low, high)


def _binding(ends: Floats, take_off: Floats, low: float, high: float, shape: Shape) -> tuple[Limit, ...]:
    cut = take_off > HALF_NANOMETRE
    if not cut.any():
        return ()
    met: list[Limit] = []
    if (np.abs(ends - low)[cut] <= HALF_NANOMETRE).any():
        met.append("lower")
    if (np.abs(ends - high)[cut] <= HALF_NANOMETRE).any():
        met.append("upper")
    met += [
        name for name, w, at, to in shape if min(abs(w @ ends - at), abs(w @ ends - to)) <= 2 * HALF_NANOMETRE
    ]
    return tuple(met)
