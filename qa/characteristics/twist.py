"""Twist: of the four corners of a size, one diagonal pair less the other, signed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics import derived
from qa.characteristics.base import Characteristic, Kind, Station, Value
from qa.characteristics.fields import Fields
from qa.errors import CannotSay
from qa.geometry import twist_weights


def read(fields: Fields) -> Characteristic | None:
    """Of a size; a limit either side of a target that is 0 unless given."""
    return derived.read(fields)


def weights(stations: tuple[Station, ...]) -> dict[str, float]:
    """What twist multiplies the reading at each corner by; CannotSay where a corner has no station."""
    return derived.weights(stations, twist_weights)


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """Nothing for any pure taper, along or across; what the readings share (a zero offset) cancels."""
    return derived.weighed(weights(stations), readings)


def needs(stations: tuple[Station, ...]) -> str:
    """A station at each corner of the face."""
    try:
        weights(stations)
    except CannotSay as error:
        return str(error)
    return ""


KINDS = (Kind("twist", "one diagonal pair of corners less the other pair", read, evaluate, needs=needs),)
