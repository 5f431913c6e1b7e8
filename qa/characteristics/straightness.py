"""Straightness: how far an edge or a surface along one line strays from straight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics import feeler
from qa.characteristics.base import Characteristic, Kind, Station, Value
from qa.characteristics.fields import Fields


def read(fields: Fields) -> Characteristic | None:
    """Method "feeler": the largest gap under a straightedge, at one or more places."""
    fields.choice("method", ("feeler",), "feeler")
    return feeler.read_upper(fields, feeler.places(fields))


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value]:
    return feeler.largest(stations, readings)


KINDS = (Kind("straightness", "largest gap under a straightedge", read, evaluate),)
