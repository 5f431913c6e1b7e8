"""Thickness, width, length and height: sizes judged station by station."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics.base import Characteristic, Kind, Limits, Station, Unsaid, Value, each
from qa.characteristics.fields import Fields


def read(fields: Fields) -> Characteristic | None:
    """A target with a tolerance, or inclusive limits `lower` and `upper` of which one may be absent."""
    limits = read_limits(fields)
    return judged_each(fields, limits, fields.stations(), "mm")


def judged_each(
    fields: Fields, limits: Limits | None, stations: tuple[Station, ...], unit: str
) -> Characteristic | None:
    """A characteristic held to the same limits at each of its stations."""
    kind = fields.text("kind")
    confidence = fields.within("confidence", 0.5, 1.0, 0.95)
    if limits is None:
        return None
    held_to = limits.target, limits.lower, limits.upper
    return Characteristic(fields.name, kind, unit, *held_to, stations, confidence=confidence)


def read_limits(fields: Fields) -> Limits | None:
    """A target with a tolerance, or `lower` and `upper`, as the amounts of `fields`."""
    target = fields.length("target", positive=True)
    tolerance = fields.tolerance()
    lower, upper = fields.length("lower"), fields.length("upper")
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
        fields.problem("lower", "is not below upper: nothing lies between them")
        return None
    return Limits(target, lower, upper)


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value | Unsaid]:
    """The reading itself at every station that has one."""
    return each(stations, readings, lambda reading: (reading, 1.0))


KINDS = tuple(
    Kind(name, f"{name} at each station", read, evaluate, sized=True, each_station=True)
    for name in ("thickness", "width", "length", "height")
)
