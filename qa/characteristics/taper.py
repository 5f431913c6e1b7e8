"""Taper: the mean size at the largest y less the mean size at the smallest y, signed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics import derived
from qa.characteristics.base import Characteristic, Kind, Station, Value
from qa.characteristics.fields import Fields
from qa.geometry import taper_weights


def read(fields: Fields) -> Characteristic | None:
    """Of a size; a target (0 unless given: some parts taper on purpose) and a limit either side of it."""
    return derived.read(fields)


def weights(stations: tuple[Station, ...]) -> dict[str, float]:
    """What taper multiplies the reading at each station of an end by; CannotSay where there is one end."""
    return derived.weights(stations, taper_weights)


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """Mean at the top less mean at the bottom; what the readings share (a zero offset) cancels."""
    return derived.weighed(weights(stations), readings)


def needs(stations: tuple[Station, ...]) -> str:
    """Two ends to compare."""
    two_ends = len({station.y for station in stations}) > 1
    return "" if two_ends else "its stations all have the same y; a taper needs two ends"


KINDS = (
    Kind("taper", "mean size at the top end less mean size at the bottom end", read, evaluate, needs=needs),
)
