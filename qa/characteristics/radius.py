"""Radius: how a rounded face fits the radius of its mould, from the sagitta over a chord."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from qa.characteristics import planned
from qa.characteristics.base import MILLION, Characteristic, Kind, Shown, Station, Unsaid, Value, each
from qa.characteristics.fields import Fields
from qa.errors import CannotSay
from qa.geometry import radius_from_sagitta, radius_gap, radius_gap_slope, sagitta


def read(fields: Fields) -> Characteristic | None:
    """Sagitta over `chord`, at stations or once; judged is the gap over `fit_width` to the radius `target`.

    The gap may reach `limit`, plus at the edges of the face, minus in its middle.
    """
    found = planned.lengths(fields, "chord", "target", "fit_width")
    limit = fields.length("limit", needed=True, positive=True)
    options = None
    if found is not None and _possible(fields, found):
        options = {"chord": found["chord"], "radius": found["target"], "fit_width": found["fit_width"]}
    return planned.limited(fields, limit, planned.places(fields), options)


def _possible(fields: Fields, lengths: Mapping[str, float]) -> bool:
    wide = [name for name in ("chord", "fit_width") if lengths[name] > 2 * lengths["target"]]
    for name in wide:
        fields.problem(name, f"is wider than the whole circle of radius {lengths['target']:g} mm")
    return not wide


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value | Unsaid]:
    """The gap at the edges of the face (plus) or in its middle (minus), at each station."""
    chord, radius, width = (characteristic.number(name) for name in ("chord", "radius", "fit_width"))

    def gap(read: float) -> tuple[float, float]:
        return radius_gap(chord, read, radius, width), radius_gap_slope(chord, read, width)

    return each(stations, readings, gap)


def reads(characteristic: Characteristic, shown: Shown) -> str:
    """The sagitta, what it is when the face meets its mould, and between which readings the gap may lie."""
    chord, radius, width = (characteristic.number(name) for name in ("chord", "radius", "fit_width"))
    words = f"sagitta over a {shown(chord)} chord; {shown(sagitta(radius, chord))} meets the mould"
    low, high = ((edge or 0) / MILLION for edge in (characteristic.lower, characteristic.upper))
    try:
        least, most = (_sagitta_read(chord, sagitta(radius, width) + gap, width) for gap in (low, high))
    except CannotSay:
        return words
    return f"{words}, {shown(least)} to {shown(most)} is within limits"


def _sagitta_read(chord: float, rise: float, width: float) -> float:
    """The sagitta over `chord` of an arc that rises by `rise` over `width`, minus where it is hollow."""
    if abs(rise) < 1e-9:
        return 0.0
    return math.copysign(sagitta(radius_from_sagitta(width, abs(rise)), chord), rise)


KINDS = (
    Kind(
        "radius",
        "gap to the mould's radius, from the sagitta over a chord",
        read,
        evaluate,
        each_station=True,
        reads=reads,
    ),
)
