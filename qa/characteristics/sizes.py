"""Thickness, width, length and height: sizes judged station by station."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics.base import Characteristic, Kind, Station, Value
from qa.characteristics.fields import Fields


def read(fields: Fields) -> Characteristic | None:
    """A target with a tolerance, or inclusive limits `lower` and `upper` of which one may be absent."""
    kind = fields.text("kind")
    target = fields.length("target", positive=True)
    tolerance = fields.tolerance()
    lower, upper = fields.length("lower"), fields.length("upper")
    stations = fields.stations()
    confidence = fields.within("confidence", 0.5, 1.0, 0.95)
    if tolerance is not None:
        if target is None:
            fields.problem("target", "is missing or wrong, so the tolerance has nothing to lie about")
            return None
        if lower is not None or upper is not None:
            fields.problem("tolerance", "is given beside lower or upper; give one or the other")
        lower, upper = target + tolerance[0], target + tolerance[1]
    if lower is None and upper is None:
        if "tolerance" not in fields.table:
            fields.problem("tolerance", "is missing: give a tolerance, or a lower or upper limit")
        return None
    if lower is not None and upper is not None and lower >= upper:
        fields.problem("lower", "is not below upper: no size lies between them")
        return None
    return Characteristic(fields.name, kind, "mm", target, lower, upper, stations, confidence=confidence)


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """The reading itself at every station that has one."""
    return [
        Value(station.name, readings[station.name], {station.name: 1.0})
        for station in stations
        if station.name in readings
    ]


KINDS = tuple(
    Kind(name, f"{name} at each station", read, evaluate, sized=True, each_station=True)
    for name in ("thickness", "width", "length", "height")
)
