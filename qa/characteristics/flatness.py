"""Flatness: how far a face strays from a plane."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics import feeler, planned
from qa.characteristics.base import MILLION, Characteristic, Kind, Shown, Station, Value
from qa.characteristics.fields import Fields
from qa.errors import CannotSay
from qa.geometry import flatness_zone, least_squares_flatness


def read(fields: Fields) -> Characteristic | None:
    """The most it may stray, `limit`, by one of two methods.

    Method "heights": heights at four or more stations of the face, minimum zone. Method "feeler": the largest
    gap under a straightedge laid across the face, read once or at stations; a crowned face may be read with a
    minus.
    """
    method = fields.choice("method", ("heights", "feeler"), "heights")
    stations = fields.stations() if method == "heights" else planned.places(fields)
    if method == "heights" and stations:
        _check(fields, stations)
    return planned.at_most(fields, stations, {"method": method})


def _check(fields: Fields, stations: tuple[Station, ...]) -> None:
    if len(stations) < 4:
        fields.problem("stations", "needs four or more: any three heights lie in one plane")
        return
    try:
        least_squares_flatness([(station.x, station.y, 0.0) for station in stations])
    except CannotSay as error:
        fields.problem("stations", str(error))


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """Width of the zone between two parallel planes, or the largest gap under the straightedge."""
    if characteristic.options["method"] == "feeler":
        return feeler.largest(stations, readings)
    zone = flatness_zone([(station.x, station.y, readings[station.name]) for station in stations])
    slopes = zip((station.name for station in stations), zone.weights.tolist(), strict=True)
    return [Value(None, zone.width, dict(slopes))]


def reads(characteristic: Characteristic, shown: Shown) -> str:
    """Heights, or leaves under the straightedge."""
    if characteristic.options["method"] == "feeler":
        return feeler.largest_leaf(characteristic, shown)
    most = shown((characteristic.upper or 0) / MILLION)
    return f"height of the face above one and the same reference; all within {most} of a plane"


KINDS = (Kind("flatness", "most the face strays from a plane", read, evaluate, reads=reads),)
