"""Taper and twist of a size read at stations on a face."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from qa.arithmetic import finite
from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

SAME_PLACE = 1e-9  # of the stations' extent: coordinates nearer than this are one


def taper(points: ArrayLike) -> float:
    """Mean size at the largest y minus mean size at the smallest y, of points[n, (x, y, size)] (mm).

    CannotSay for numbers that are not finite, or all stations at one y. Common practice, no source.
    """
    given = _stations(points)
    return float(taper_weights(given[:, :2]) @ given[:, 2])


def twist(points: ArrayLike) -> float:
    """Twist of points[n, (x, y, size)] with four corner stations: t(0,0) - t(X,0) - t(0,Y) + t(X,Y), in mm.

    Zero for any taper, along or across; other stations are not used. CannotSay for numbers that are not
    finite, or where a corner (an extreme of x with an extreme of y) has no station. Common practice, no
    source.
    """
    given = _stations(points)
    return float(twist_weights(given[:, :2]) @ given[:, 2])


def taper_weights(stations: ArrayLike) -> Floats:
    """Sensitivity of the taper to the size at each of stations[n, (x, y)]: what taper() multiplies by."""
    places = finite.table(stations, "stations", 2)
    return _mean_at(*_ends(places[:, 1], "y")[::-1])


def twist_weights(stations: ArrayLike) -> Floats:
    """Sensitivity of the twist to the size at each of stations[n, (x, y)]: what twist() multiplies by."""
    places = finite.table(stations, "stations", 2)
    left, right = _ends(places[:, 0], "x")
    near, far = _ends(places[:, 1], "y")
    corners = {"smallest x, smallest y": left & near, "largest x, smallest y": right & near}
    corners |= {"smallest x, largest y": left & far, "largest x, largest y": right & far}
    missing = [name for name, at in corners.items() if not at.any()]
    if missing:
        raise CannotSay(f"twist needs a station at each corner of the face; none at {' or '.join(missing)}")
    first, second, third, fourth = corners.values()
    return _mean_at(first, second) + _mean_at(fourth, third)


def _mean_at(plus: NDArray[np.bool_], minus: NDArray[np.bool_]) -> Floats:
    return np.asarray(plus / plus.sum() - minus / minus.sum())


def _ends(along: Floats, axis: str) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    low, high = along.min(), along.max()
    slack = SAME_PLACE * (high - low)
    if low == high:
        raise CannotSay(
            f"all stations are at {axis} = {low:g}; this needs stations at two places along {axis}"
        )
    return along <= low + slack, along >= high - slack


def _stations(points: ArrayLike) -> Floats:
    return finite.table(points, "stations with sizes", 3)
