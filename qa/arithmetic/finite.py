"""Turn what a caller gives into finite numbers, or say which one is not."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def number(value: float, what: str) -> float:
    """One finite float; CannotSay names `what` otherwise."""
    try:
        result = float(value)
    except (TypeError, ValueError):
        raise CannotSay(f"{what} must be one number, got {value!r}") from None
    if not math.isfinite(result):
        raise CannotSay(f"{what} must be a finite number, got {result}")
    return result


def positive(value: float, what: str) -> float:
    """One finite float above zero; CannotSay names `what` otherwise."""
    result = number(value, what)
    if result <= 0:
        raise CannotSay(f"{what} must be above zero, got {result:g}")
    return result


def not_negative(value: float, what: str) -> float:
    """One finite float, zero or above; CannotSay names `what` otherwise."""
    result = number(value, what)
    if result < 0:
        raise CannotSay(f"{what} must not be negative, got {result:g}")
    return result


def array(values: ArrayLike, what: str) -> NDArray[np.float64]:
    """Finite floats of any shape; CannotSay names `what` and the first bad place otherwise."""
    try:
        result = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise CannotSay(f"{what} must be numbers in rows of equal length") from None
    finite = np.isfinite(result)
    if not finite.all():
        bad = tuple(np.argwhere(~finite)[0].tolist())
        raise CannotSay(f"{what}: value at {list(bad)} is {result[bad]}, not a finite number")
    return result


def vector(values: ArrayLike, what: str, at_least: int = 1) -> NDArray[np.float64]:
    """Finite floats, shape [n] with n >= `at_least`; CannotSay otherwise."""
    result = array(values, what)
    if result.ndim != 1:
        raise CannotSay(f"{what} must be one row of numbers, got shape {result.shape}")
    if len(result) < at_least:
        raise CannotSay(f"{what}: needs at least {at_least}, got {len(result)}")
    return result


def table(values: ArrayLike, what: str, columns: int, at_least: int = 1) -> NDArray[np.float64]:
    """Finite floats, shape [n, columns] with n >= `at_least`; CannotSay otherwise."""
    result = array(values, what)
    if result.size == 0:
        raise CannotSay(f"{what}: none given, needs at least {at_least}")
    if result.ndim != 2 or result.shape[1] != columns:
        raise CannotSay(f"{what} must have {columns} columns, got shape {result.shape}")
    if len(result) < at_least:
        raise CannotSay(f"{what}: needs at least {at_least}, got {len(result)}")
    return result
