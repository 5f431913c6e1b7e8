"""Bevel: widths of the bevels along a face, and the flat they leave between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from qa.arithmetic import finite
from qa.characteristics import planned
from qa.characteristics.base import MILLION, Characteristic, Kind, Limits, Shown, Station, Unsaid, Value, each
from qa.characteristics.fields import Fields

FLAT = "flat"


def read(fields: Fields) -> Characteristic | None:
    """The widest bevel on which a clamp still seats, `limit`, at each station.

    With `width_of_face` and `flat_least`, also the least flat that must stay for a bolted joint: then the
    stations are the one or two bevels that cut into the width of the face.
    """
    stations = fields.stations()
    planned.keep_words(fields, stations, (FLAT,))
    flat = _flat(fields, stations)
    characteristic = planned.at_most(fields, stations)
    if characteristic is None or flat is None:
        return characteristic
    width, least = flat
    return replace(
        characteristic, options={"width_of_face": width}, overall={FLAT: Limits(None, least, None)}
    )


def _flat(fields: Fields, stations: tuple[Station, ...]) -> tuple[float, int] | None:
    width, least = (fields.length(name, positive=True) for name in ("width_of_face", "flat_least"))
    given = [name for name in ("width_of_face", "flat_least") if name in fields.table]
    if len(given) == 1:
        fields.problem(given[0], "needs both width_of_face and flat_least; give the other one too")
    if width is None or least is None:
        return None
    if least >= width:
        fields.problem("flat_least", "is not below width_of_face: no bevel could be cut")
    if len(stations) > 2:
        fields.problem("stations", "may be two at most beside flat_least: a face has a bevel on either side")
    return width / MILLION, least


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value | Unsaid]:
    """The width at every station that has a reading; once all have one, the flat left between them."""
    found = each(stations, readings, lambda reading: (finite.not_negative(reading, "width of a bevel"), 1.0))
    widths = [item.value for item in found if isinstance(item, Value)]
    if characteristic.overall and len(widths) == len(stations):
        left = characteristic.number("width_of_face") - sum(widths)
        found.append(Value(FLAT, left, {station.name: -1.0 for station in stations}))
    return found


def reads(characteristic: Characteristic, shown: Shown) -> str:
    """The width of a bevel."""
    return f"width of the bevel; at most {shown((characteristic.upper or 0) / MILLION)}"


KINDS = (Kind("bevel", "width of the bevel at each station", read, evaluate, each_station=True, reads=reads),)
