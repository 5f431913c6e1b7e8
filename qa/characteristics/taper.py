"""Taper: the mean size at the largest y less the mean size at the smallest y, signed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics.base import Characteristic, Kind, Station, Value
from qa.characteristics.fields import Fields
from qa.geometry import taper_weights


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


def weights(stations: tuple[Station, ...]) -> dict[str, float]:
    """What taper multiplies the reading at each station of an end by; CannotSay where there is one end."""
    found = taper_weights([(station.x, station.y) for station in stations]).tolist()
    return {station.name: weight for station, weight in zip(stations, found, strict=True) if weight}


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    """Mean at the top less mean at the bottom; what the readings share (a zero offset) cancels."""
    shares = weights(stations)
    return [Value(None, sum(share * readings[name] for name, share in shares.items()), shares)]


def needs(stations: tuple[Station, ...]) -> str:
    """Two ends to compare."""
    two_ends = len({station.y for station in stations}) > 1
    return "" if two_ends else "its stations all have the same y; a taper needs two ends"


KINDS = (
    Kind("taper", "mean size at the top end less mean size at the bottom end", read, evaluate, needs=needs),
)
