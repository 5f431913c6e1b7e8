"""Flatness: how far a face strays from a plane."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics import zones
from qa.characteristics.base import Characteristic, Kind, Shown, Station, Value
from qa.characteristics.fields import Fields
from qa.geometry import Zone, flatness_zone, least_squares_flatness


def read(fields: Fields) -> Characteristic | None:
    """The most it may stray, `limit`, by one of two methods.

    Method "heights": heights at four or more stations of the face, minimum zone. Method "feeler": the largest
    gap under a straightedge laid across the face, read once or at stations; a crowned face may be read with a
    minus.
    """
    return zones.read(fields, 4, "needs four or more: any three heights lie in one plane", _spread)


def _spread(stations: tuple[Station, ...]) -> float:
    return least_squares_flatness([(station.x, station.y, 0.0) for station in stations])


def _zone(stations: tuple[Station, ...], heights: list[float]) -> Zone:
    return flatness_zone([(s.x, s.y, height) for s, height in zip(stations, heights, strict=True)])


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """Width of the zone between two parallel planes, or the largest gap under the straightedge."""
    return zones.evaluate(characteristic, stations, readings, _zone)


def reads(characteristic: Characteristic, shown: Shown) -> str:
    """Heights, or leaves under the straightedge."""
    heights = "height of the face above one and the same reference; all within {most} of a plane"
    return zones.reads(characteristic, shown, heights)


KINDS = (Kind("flatness", "most the face strays from a plane", read, evaluate, reads=reads),)
