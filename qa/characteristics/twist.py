"""Twist: of the four corners of a size, one diagonal pair less the other, signed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics.base import Characteristic, Kind, Station, Value
from qa.characteristics.fields import Fields
from qa.characteristics.taper import read_derived
from qa.errors import CannotSay
from qa.geometry import twist_weights


def read(fields: Fields) -> Characteristic | None:
    """Of a size; a limit either side of a target that is 0 unless given."""
    return read_derived(fields, signed=True)


def weights(stations: tuple[Station, ...]) -> dict[str, float]:
    """What twist multiplies the reading at each corner by; CannotSay where a corner has no station."""
    found = twist_weights([(station.x, station.y) for station in stations]).tolist()
    return {station.name: weight for station, weight in zip(stations, found, strict=True) if weight}


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """Nothing for any pure taper, along or across; what the readings share (a zero offset) cancels."""
    signs = weights(stations)
    return [Value(None, sum(sign * readings[name] for name, sign in signs.items()), signs)]


def needs(stations: tuple[Station, ...]) -> str:
    """A station at each corner of the face."""
    try:
        weights(stations)
    except CannotSay as error:
        return str(error)
    return ""


KINDS = (Kind("twist", "one diagonal pair of corners less the other pair", read, evaluate, needs=needs),)
