"""Whether a measured value conforms, given how uncertain it is (JCGM 106:2012, ISO 14253-1).

Limits are inclusive. The measured quantity is taken as normal about the value read, with no knowledge
from before. A limit may be absent: None, or an infinity in arrays of limits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from qa.arithmetic import bands, finite
from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


class Verdict(StrEnum):
    """The words of a verdict."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does not conform"
    UNDECIDED = "undecided"
    NOT_MEASURED = "not measured"


NAMES = (Verdict.UNDECIDED, Verdict.CONFORMS, Verdict.DOES_NOT_CONFORM)


@dataclass(frozen=True, slots=True, eq=False)
class Verdicts:
    """Verdicts on many readings: codes (int8, shape [n]) are places in `names`."""

    codes: NDArray[np.int8]
    names: tuple[Verdict, ...] = NAMES

    def words(self) -> list[Verdict]:
        """The verdicts in words, one per reading."""
        return [self.names[code] for code in self.codes.tolist()]


def conformance_probability(
    value: float, u: float, lower: float | None = None, upper: float | None = None
) -> float:
    """Probability that the quantity lies within its limits.

    value, u (standard uncertainty) and limits in one unit, usually mm. Where u is zero the answer is 0 or 1,
    compared after rounding to the nanometre, so that no binary fraction decides. CannotSay for numbers that
    are not finite, a negative u, reversed limits or no limit at all. Source: JCGM 106:2012 clause 7.
    """
    low, high = _limits(lower, upper)
    reading = np.array([finite.number(value, "value")])
    spread = np.array([finite.not_negative(u, "standard uncertainty")])
    return float(bands.probability((reading, spread, np.array(low), np.array(high)))[0])


def decide(
    value: float, u: float, lower: float | None, upper: float | None, confidence: float = 0.95
) -> Verdict:
    """Verdict on one value: "conforms", "does not conform" or "undecided".

    Conforms where the conformance probability is at least `confidence` (0.5 < confidence < 1), does not where
    it is at most 1 - confidence. With one limit in play that is a guard band of 1.645 u at 95 %, on both
    sides of the limit. CannotSay as for conformance_probability. Source: JCGM 106:2012 8.3, ISO 14253-1:2017.
    """
    level = _confidence(confidence)
    pc = conformance_probability(value, u, lower, upper)
    return NAMES[int(bands.codes_of(np.array([pc]), level)[0])]


def guard_band(u: float, confidence: float = 0.95) -> float:
    """Width w by which one limit is moved inwards to accept at `confidence`: a normal quantile times u.

    Source: JCGM 106:2012 8.3; 1.645 u at 95 % as in ISO 14253-1:2017.
    """
    from scipy.special import ndtri

    return float(ndtri(_confidence(confidence))) * finite.not_negative(u, "standard uncertainty")


def acceptance_limits(
    lower: float | None, upper: float | None, u: float, confidence: float = 0.95
) -> tuple[float | None, float | None]:
    """The values read between which decide() answers "conforms"; None where there is no limit.

    With two limits, both tails count: the guard is wider than guard_band() where u is not small beside the
    tolerance. CannotSay where no value could be accepted, or as for decide().
    """
    low, high = _limits(lower, upper)
    width = high - low
    guard = guard_band(u, confidence)
    if math.isfinite(width) and u > 0:
        guard = _two_sided_guard(width, u, confidence)
    return (None if lower is None else low + guard, None if upper is None else high - guard)


def decide_many(
    values: ArrayLike,
    u: ArrayLike,
    lower: ArrayLike | None,
    upper: ArrayLike | None,
    confidence: float = 0.95,
) -> Verdicts:
    """Verdicts on values[n], the same as decide() gives one by one.

    u, lower and upper are single numbers or have shape [n]; an infinite limit is none. CannotSay as for
    decide(), or where shapes differ.
    """
    level = _confidence(confidence)
    given = (values, u, -math.inf if lower is None else lower, math.inf if upper is None else upper)
    return Verdicts(bands.judge(bands.columns(*given), level))


def _limits(lower: float | None, upper: float | None) -> tuple[float, float]:
    low = -math.inf if lower is None else float(lower)
    high = math.inf if upper is None else float(upper)
    bands.check_limits(np.asarray(low), np.asarray(high))
    return low, high


def _confidence(confidence: float) -> float:
    if not 0.5 < confidence < 1:
        raise CannotSay(f"confidence must lie between 0.5 and 1, got {confidence}")
    return float(confidence)


def _two_sided_guard(width: float, u: float, confidence: float) -> float:
    from scipy.optimize import brentq
    from scipy.special import ndtr

    def excess(guard: float) -> float:
        return float(ndtr((width - guard) / u) - ndtr(-guard / u)) - confidence

    if excess(width / 2) < 0:
        raise CannotSay(
            f"a standard uncertainty of {u:g} is too large for a tolerance {width:g} wide: no reading could "
            f"be accepted at {confidence:.0%}; measure better or widen the tolerance"
        )
    return float(brentq(excess, 0.0, width / 2, xtol=1e-12))
