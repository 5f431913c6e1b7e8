"""Squareness: how far a corner strays from square, in millimetres over a stated length."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

from qa.arithmetic import finite
from qa.characteristics import planned
from qa.characteristics.base import MILLION, ONCE, Characteristic, Kind, Shown, Station, Value
from qa.characteristics.fields import Fields
from qa.errors import CannotSay

DIAGONALS = (Station("diagonal-1", 0.0, 0.0), Station("diagonal-2", 1.0, 0.0))
DEGREES = re.compile(r"([0-9]*[.,]?[0-9]+) *(?:deg(?:rees)?|°)")
FAR_OFF = 0.05
"""How far the mean square of two diagonals may be from that of the plan's rectangle; own convention."""


def read(fields: Fields) -> Characteristic | None:
    """A `limit` either side of square over the length `over`, in millimetres or as an angle ("0.2 deg").

    Method "feeler": the gap read at `blade_length` from the corner, plus at the end of the blade, minus at
    the corner. Method "diagonals": the two diagonals of a rectangle `width` by `length`.
    """
    method = fields.choice("method", ("feeler", "diagonals"), "feeler")
    needed = ("blade_length",) if method == "feeler" else ("width", "length")
    found = planned.lengths(fields, *needed, "over")
    limit = _limit(fields, found["over"] if found else None)
    stations = ONCE if method == "feeler" else DIAGONALS
    return planned.limited(fields, limit, stations, found and {"method": method, **found})


def _limit(fields: Fields, over: float | None) -> int | None:
    value = fields.get("limit", needed=True)
    angle = DEGREES.fullmatch(value.strip()) if isinstance(value, str) else None
    if angle is None:
        return fields.length("limit", positive=True)
    degrees = float(angle[1].replace(",", "."))
    if not 0 < degrees < 45:
        fields.problem("limit", f"must lie between 0 and 45 degrees, not {value}")
        return None
    return None if over is None else round(math.tan(math.radians(degrees)) * over * MILLION)


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """The gap brought to the length `over` in proportion, or what the two diagonals make of the corner."""
    if characteristic.options["method"] == "diagonals":
        return [_of_diagonals(characteristic, *(readings[station.name] for station in DIAGONALS))]
    scale = characteristic.number("over") / characteristic.number("blade_length")
    (station,) = stations
    return [Value(None, finite.number(readings[station.name], "reading") * scale, {station.name: scale})]


def _of_diagonals(characteristic: Characteristic, first: float, second: float) -> Value:
    """By the law of cosines d1^2 - d2^2 = 4 w l sin(delta), delta being how far the corner is from square."""
    width, length, over = (characteristic.number(name) for name in ("width", "length", "over"))
    _plausible(first, second, width, length)
    sine = (first**2 - second**2) / (4 * width * length)
    if abs(sine) >= 1:
        raise CannotSay(
            f"no rectangle {width:g} x {length:g} mm leans to diagonals {first:g} and {second:g} mm"
        )
    slope = over / (1 - sine**2) ** 1.5 / (2 * width * length)
    value = over * sine / math.sqrt(1 - sine**2)
    return Value(None, value, {DIAGONALS[0].name: slope * first, DIAGONALS[1].name: -slope * second})


def _plausible(first: float, second: float, width: float, length: float) -> None:
    finite.positive(first, "diagonal 1")
    finite.positive(second, "diagonal 2")
    squares = (first**2 + second**2) / 2
    if abs(squares / (width**2 + length**2) - 1) > FAR_OFF:
        raise CannotSay(
            f"diagonals of {first:g} and {second:g} mm are not of a rectangle {width:g} x {length:g} mm "
            f"({math.hypot(width, length):.2f} mm); read them again, or correct the plan"
        )


def reads(characteristic: Characteristic, shown: Shown) -> str:
    """The gap at the blade, or a diagonal."""
    if characteristic.options["method"] == "diagonals":
        width, length = characteristic.number("width"), characteristic.number("length")
        return f"diagonal from corner to corner; {shown(math.hypot(width, length))} where it is square"
    blade, over = characteristic.number("blade_length"), characteristic.number("over")
    most = shown((characteristic.upper or 0) / MILLION * blade / over)
    return f"feeler gap {shown(blade)} from the corner, minus where the gap is at the corner; at most {most}"


KINDS = (Kind("squareness", "deviation from square over a stated length", read, evaluate, reads=reads),)
