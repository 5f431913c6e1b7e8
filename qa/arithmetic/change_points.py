"""When did it change? The likeliest build of one lasting step, and how sure that is."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qa.arithmetic.series import FloatArray, series, share, varies
from qa.errors import CannotSay

PURPOSE = "change point"
FEWEST = 5
_SHUFFLES = 1999
_SEED = 20_240_501


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """`index` (from 0) is the first value after the likeliest step; so sure it lies from `low` to `high`.

    `p` is the chance of a step as clear in values without any order: above 0.05, no step has been shown and
    `index` means little. `before` and `after` are the means on either side. `probabilities`, shape (n,),
    is the chance of each index being the first after the step, given that there was one.
    """

    index: int
    low: int
    high: int
    p: float
    before: float
    after: float
    probabilities: FloatArray


def change_point(y: Sequence[float], confidence: float = 0.95) -> ChangePoint:
    """Find one lasting step in the mean of `y`, in build order, its means and common spread unknown.

    The probabilities weigh every place of the step alike beforehand, with flat priors for both means and
    for the logarithm of the spread; `low` and `high` hold the likeliest places that add up to `confidence`.
    p is by 1999 shuffles from a fixed seed, of the largest two-sample t over all places.

    Raises CannotSay below five values, or where all are the same.
    Source: Smith 1975, Biometrika 62 (from memory); shuffles as in any permutation test.
    """
    data = series(y, purpose=PURPOSE, least=FEWEST)
    level = share(confidence, purpose=PURPOSE, name="confidence")
    if not varies(data):
        raise CannotSay(f"{PURPOSE}: all {data.size} values are the same, so nothing has changed")
    scaled = (data - data.mean()) / np.ptp(data)
    probabilities = _probabilities(scaled)
    index = int(probabilities.argmax())
    low, high = _likeliest_span(probabilities, level)
    return ChangePoint(
        index,
        low,
        high,
        _chance(scaled),
        float(data[:index].mean()),
        float(data[index:].mean()),
        probabilities,
    )


def _between(rows: FloatArray) -> FloatArray:
    """Sum of squares between the two sides, for a step before index 1 .. n-1; rows have mean 0."""
    n = rows.shape[-1]
    first = np.arange(1, n)
    sums = np.cumsum(rows, axis=-1)[..., :-1]
    return np.asarray(sums**2 * n / (first * (n - first)))


def _probabilities(row: FloatArray) -> FloatArray:
    n = row.size
    first = np.arange(1, n)
    # a perfect step leaves no spread at all: hold it at what doubles can tell from zero
    within = np.maximum((row**2).sum() - _between(row), 1e-20)
    log_weight = -np.log(first * (n - first)) / 2 - (n - 2) / 2 * np.log(within)
    weight = np.exp(log_weight - log_weight.max())
    return np.concatenate([[0.0], weight / weight.sum()])


def _likeliest_span(probabilities: FloatArray, level: float) -> tuple[int, int]:
    order = np.argsort(-probabilities, kind="stable")
    needed = int(np.searchsorted(np.cumsum(probabilities[order]), level - 1e-12)) + 1
    chosen: npt.NDArray[np.intp] = order[:needed]
    return int(chosen.min()), int(chosen.max())


def _chance(row: FloatArray) -> float:
    """Share of shuffles with a step as clear; the sum of squares between sides orders places as t does."""
    shuffled = np.random.default_rng(_SEED).permuted(np.tile(row, (_SHUFFLES, 1)), axis=1)
    seen = _between(row).max()
    as_clear = int((_between(shuffled).max(axis=1) >= seen * (1 - 1e-9)).sum())
    return (1 + as_clear) / (1 + _SHUFFLES)
