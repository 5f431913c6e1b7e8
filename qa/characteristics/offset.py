"""Offset: how far a centre line lies from the middle of a part, from its distances to both sides."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.arithmetic import finite
from qa.characteristics import planned
from qa.characteristics.base import MILLION, Characteristic, Kind, Shown, Station, Value
from qa.characteristics.fields import Fields

SIDES = (Station("left", -1.0, 0.0), Station("right", 1.0, 0.0))


def read(fields: Fields) -> Characteristic | None:
    """A `limit` either side of the middle. Read are the line's distances from both sides."""
    return planned.limited(fields, fields.length("limit", needed=True, positive=True), SIDES, {})


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """Half of left less right: plus where the line lies right of the middle. A shared zero offset cancels."""
    left, right = (finite.not_negative(readings[side.name], f"distance {side.name}") for side in SIDES)
    return [Value(None, (left - right) / 2, {"left": 0.5, "right": -0.5})]


def reads(characteristic: Characteristic, shown: Shown) -> str:
    """Distances from both sides; they differ by twice the offset."""
    apart = shown(2 * (characteristic.upper or 0) / MILLION)
    return f"distance from this side to the centre line; left and right within {apart} of each other"


KINDS = (Kind("offset", "centre line from the middle, plus to the right", read, evaluate, reads=reads),)
