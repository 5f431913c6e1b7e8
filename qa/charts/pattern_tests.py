"""Pattern tests: runs and clusters that one process with one spread hardly ever shows."""

from collections.abc import Callable, Iterable, Sequence

import numpy as np
import numpy.typing as npt

from qa.arithmetic.series import FloatArray, number, positive, series, settled
from qa.charts.signals import Signal
from qa.errors import CannotSay

PURPOSE = "pattern tests"
Flags = npt.NDArray[np.bool_]


def run_rules(
    values: Sequence[float], center: float, sigma: float, rules: Iterable[str] | None = None
) -> list[Signal]:
    """Return every point of `values` that completes a pattern, in order; `rules` picks some of RULES.

    A value exactly on the centre line is on neither side; equal neighbours neither rise nor fall. In "two
    of three" and "four of five" the completing point itself lies beyond, and the run may be shorter.
    Each extra rule adds false alarms: all eight together give one about every 70 points of a process at
    rest, the first alone one in 370.

    Raises CannotSay for values that are not finite, sigma not above 0, or a rule not in RULES.
    Source: Nelson 1984, Journal of Quality Technology 16(4).
    """
    chosen = RULES if rules is None else tuple(rules)
    unknown = [rule for rule in chosen if rule not in _TESTS]
    if unknown:
        raise CannotSay(f"{PURPOSE}: no rule {unknown[0]!r}; there are: {'; '.join(RULES)}")
    data = series(values, purpose=PURPOSE, least=0)
    middle = number(center, purpose=PURPOSE, name="center")
    z = settled(data - middle) / positive(sigma, purpose=PURPOSE, name="sigma")
    found = [Signal(int(i), rule) for rule in chosen for i in np.flatnonzero(_TESTS[rule](z))]
    return sorted(found, key=lambda signal: signal.index)


def _all_of(flags: Flags, length: int) -> Flags:
    """Mark where the last `length` flags are all set."""
    return np.asarray(_count(flags, length) == length)


def _count(flags: Flags, length: int) -> npt.NDArray[np.int_]:
    """Count the set flags among the last `length`, fewer at the beginning."""
    total = np.concatenate([[0], np.cumsum(flags)])
    last = np.arange(1, total.size)
    return np.asarray(total[last] - total[np.maximum(last - length, 0)])


def _steps(z: FloatArray) -> FloatArray:
    """Sign of the step up to each point; 0 for the first."""
    return np.sign(np.diff(z, prepend=z[:1]))


def _one_side(length: int) -> Callable[[FloatArray], Flags]:
    return lambda z: _all_of(z > 0, length) | _all_of(z < 0, length)


def _rising_or_falling(points: int) -> Callable[[FloatArray], Flags]:
    return lambda z: _all_of(_steps(z) > 0, points - 1) | _all_of(_steps(z) < 0, points - 1)


def _alternating(points: int) -> Callable[[FloatArray], Flags]:
    def test(z: FloatArray) -> Flags:
        steps = _steps(z)
        return _all_of(steps * np.roll(steps, 1) < 0, points - 2)

    return test


def _most_beyond(many: int, of: int, reach: float) -> Callable[[FloatArray], Flags]:
    def one_side(beyond: Flags) -> Flags:
        return beyond & (_count(beyond, of) >= many)

    return lambda z: one_side(z > reach) | one_side(z < -reach)


_TESTS: dict[str, Callable[[FloatArray], Flags]] = {
    "one point beyond three sigma": lambda z: np.abs(z) > 3,
    "nine in a row on one side": _one_side(9),
    "six in a row rising or falling": _rising_or_falling(6),
    "fourteen in a row alternating": _alternating(14),
    "two of three beyond two sigma on one side": _most_beyond(2, 3, 2),
    "four of five beyond one sigma on one side": _most_beyond(4, 5, 1),
    "fifteen in a row within one sigma": lambda z: _all_of(np.abs(z) < 1, 15),
    "eight in a row beyond one sigma on either side": lambda z: _all_of(np.abs(z) > 1, 8),
}

RULES: tuple[str, ...] = tuple(_TESTS)
