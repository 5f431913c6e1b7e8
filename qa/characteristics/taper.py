"""Taper: the mean size at the largest y less the mean size at the smallest y, signed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics.base import Characteristic, Kind, Station, Value
from qa.characteristics.fields import Fields


def read(fields: Fields) -> Characteristic | None:
    """Of a size; a target (0 unless given: some parts taper on purpose) and a limit either side of it."""
    return read_derived(fields, signed=True)


def read_derived(fields: Fields, *, signed: bool) -> Characteristic | None:
    """A characteristic `of` a size with one `limit`: either side of its target, or (unsigned) above zero."""
    kind = fields.text("kind")
    of = fields.text("of", needed=True)
    target = fields.length("target") or 0 if signed else 0
    limit = fields.length("limit", needed=True, positive=True)
    confidence = fields.within("confidence", 0.5, 1.0, 0.95)
    if limit is None or not of:
        return None
    lower = target - limit if signed else None
    return Characteristic(
        fields.name, kind, "mm", target, lower, target + limit, of=of, confidence=confidence
    )


def ends(stations: tuple[Station, ...]) -> tuple[list[str], list[str]]:
    """The names of the stations at the largest y and at the smallest y."""
    top, bottom = max(s.y for s in stations), min(s.y for s in stations)
    return [s.name for s in stations if s.y == top], [s.name for s in stations if s.y == bottom]


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """Mean at the top less mean at the bottom; what the readings share (a zero offset) cancels."""
    top, bottom = ends(stations)
    weights = {name: 1 / len(top) for name in top} | {name: -1 / len(bottom) for name in bottom}
    return [Value(None, sum(weight * readings[name] for name, weight in weights.items()), weights)]


def needs(stations: tuple[Station, ...]) -> str:
    """Two ends to compare."""
    return (
        "" if len({s.y for s in stations}) > 1 else "its stations all have the same y; a taper needs two ends"
    )


KINDS = (
    Kind("taper", "mean size at the top end less mean size at the bottom end", read, evaluate, needs=needs),
)
