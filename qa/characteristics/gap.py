"""Gap: what stays open where parts are held together dry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.characteristics import feeler, planned
from qa.characteristics.base import MILLION, Characteristic, Kind, Shown, Station, Unsaid, Value, each
from qa.characteristics.fields import Fields


def read(fields: Fields) -> Characteristic | None:
    """The widest gap allowed, `limit`, at stations or read once: the largest leaf that enters, 0 for none."""
    return planned.at_most(fields, planned.places(fields))


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value | Unsaid]:
    """The gap at every station that has a reading."""
    return each(stations, readings, feeler.gap)


def reads(characteristic: Characteristic, shown: Shown) -> str:
    """Leaves in the joint held together dry."""
    most = shown((characteristic.upper or 0) / MILLION)
    return f"largest leaf that enters the joint held dry, 0 for none; at most {most}"


KINDS = (Kind("gap", "gap of the dry fit, at each station", read, evaluate, each_station=True, reads=reads),)
