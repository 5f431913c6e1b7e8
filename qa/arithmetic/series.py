"""Readings taken in for statistics: finite, and of a size whose squares and ratios stay finite too."""

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from qa.arithmetic import finite
from qa.errors import CannotSay

FloatArray: TypeAlias = npt.NDArray[np.float64]
Numbers: TypeAlias = Sequence[float] | npt.ArrayLike

LARGEST, SMALLEST = 1e100, 1e-100
# Lengths that differ by less (a picometre, in millimetres) differ by the rounding of arithmetic alone.
ROUNDING_DIGITS = 9


def series(values: Numbers, *, purpose: str, least: int = 1) -> FloatArray:
    """Return `values` as a float array of shape (n,), n >= `least`.

    `purpose` names the question in the message. Raises CannotSay where there are too few values, or one is
    missing, not finite, or too large to be a reading.
    """
    array = finite.vector(values, purpose, least)
    if array.size and np.abs(array).max() > LARGEST:
        raise CannotSay(f"{purpose}: {np.abs(array).max():g} is too large to be a reading")
    return array


def varies(values: FloatArray) -> bool:
    """Say whether `values` differ by more than the rounding of arithmetic on numbers of their size."""
    return bool(np.ptp(values) > rounding_of(np.abs(values).max()))


def rounding_of(size: npt.ArrayLike) -> FloatArray:
    """Difference that arithmetic alone may leave between equal readings of this size, or of each of them."""
    return np.maximum(10.0**-ROUNDING_DIGITS, 1e-12 * np.asarray(size, dtype=np.float64))


def settled(values: FloatArray) -> FloatArray:
    """Return `values` with rounding errors taken off, so that equal readings tie."""
    return np.round(values, ROUNDING_DIGITS)


def number(value: float, *, purpose: str, name: str) -> float:
    """Return `value` as a float; raises CannotSay unless it is one finite number of a sane size."""
    result = finite.number(value, f"{purpose}: {name}")
    if abs(result) > LARGEST:
        raise CannotSay(f"{purpose}: {name} = {result:g} is too large to be a reading")
    return result


def positive(value: float, *, purpose: str, name: str) -> float:
    """Return `value` as a float above 0 (a standard deviation, a width); raises CannotSay."""
    size = number(value, purpose=purpose, name=name)
    if not size > SMALLEST:
        raise CannotSay(f"{purpose}: {name} must be above 0, not {value!r}")
    return size


def not_negative(value: float, *, purpose: str, name: str) -> float:
    """Return `value` as a float of 0 or above (an uncertainty, a slack); raises CannotSay."""
    size = number(value, purpose=purpose, name=name)
    if size < 0:
        raise CannotSay(f"{purpose}: {name} must not be below 0, and is {size:g}")
    return size


def share(value: float, *, purpose: str, name: str) -> float:
    """Return `value` as a float strictly between 0 and 1 (a confidence, a coverage); raises CannotSay."""
    fraction = number(value, purpose=purpose, name=name)
    if not 0 < fraction < 1:
        raise CannotSay(f"{purpose}: {name} must lie between 0 and 1 (0.95 for 95 %), not {value!r}")
    return fraction
