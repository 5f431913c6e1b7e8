"""Straightness: how far an edge, or a surface along one line, strays from straight."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from qa.characteristics import zones
from qa.characteristics.base import Characteristic, Kind, Shown, Station, Value
from qa.characteristics.fields import Fields
from qa.errors import CannotSay
from qa.geometry import Zone, straightness_zone

OFF_LINE = 1e-6
"""How far stations may lie off their line, as a share of its length."""


def read(fields: Fields) -> Characteristic | None:
    """The most it may stray, `limit`, by one of two methods.

    Method "heights": heights at three or more stations along one line, minimum zone. Method "feeler": the
    largest gap under a straightedge, read once or at stations; a crowned face may be read with a minus.
    """
    return zones.read(fields, 3, "needs three or more: any two heights lie on a straight line", positions)


def positions(stations: tuple[Station, ...]) -> list[float]:
    """How far along their line the stations are, in millimetres from its end; CannotSay off one line."""
    places = [(station.x, station.y) for station in stations]
    (x, y), far = min(places), max(places)
    length = math.dist((x, y), far) or 1.0
    along, across = (far[0] - x) / length, (far[1] - y) / length
    off = [abs((px - x) * across - (py - y) * along) for px, py in places]
    if max(off) > OFF_LINE * length:
        name = stations[off.index(max(off))].name
        raise CannotSay(f"station {name!r} is not on the line of the others; for a face, ask for flatness")
    return [(px - x) * along + (py - y) * across for px, py in places]


def _zone(stations: tuple[Station, ...], heights: list[float]) -> Zone:
    return straightness_zone(list(zip(positions(stations), heights, strict=True)))


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """Width of the zone between two parallel lines, or the largest gap under the straightedge."""
    return zones.evaluate(characteristic, stations, readings, _zone)


def reads(characteristic: Characteristic, shown: Shown) -> str:
    """Heights along the line, or leaves under the straightedge."""
    heights = "height along the line above one and the same reference; all within {most} of straight"
    return zones.reads(characteristic, shown, heights)


KINDS = (Kind("straightness", "most it strays from straight along a line", read, evaluate, reads=reads),)
