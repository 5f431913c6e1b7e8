"""What flatness and straightness share: heights held to the narrowest zone, or leaves under an edge."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from qa.characteristics import feeler, planned
from qa.characteristics.base import MILLION, Characteristic, Shown, Station, Value
from qa.characteristics.fields import Fields
from qa.errors import CannotSay
from qa.geometry import Zone

FitTest = Callable[[tuple[Station, ...]], object]
Narrowest = Callable[[tuple[Station, ...], list[float]], Zone]


def read(fields: Fields, fewest: int, too_few: str, fit: FitTest) -> Characteristic | None:
    """The most it may stray, `limit`, by "heights" or "feeler"; `fit` refuses stations in a bad place."""
    method = fields.choice("method", ("heights", "feeler"), "heights")
    stations = fields.stations() if method == "heights" else planned.places(fields)
    if method == "heights" and stations:
        _check(fields, stations, fewest, too_few, fit)
    return planned.at_most(fields, stations, {"method": method})


def _check(fields: Fields, stations: tuple[Station, ...], fewest: int, too_few: str, fit: FitTest) -> None:
    if len(stations) < fewest:
        fields.problem("stations", too_few)
        return
    try:
        fit(stations)
    except CannotSay as error:
        fields.problem("stations", str(error))


def evaluate(
    characteristic: Characteristic,
    stations: tuple[Station, ...],
    readings: Mapping[str, float],
    narrowest: Narrowest,
) -> Sequence[Value]:
    """Width of the narrowest zone in millimetres, or the largest gap under the straightedge."""
    if characteristic.options["method"] == "feeler":
        return feeler.largest(stations, readings)
    zone = narrowest(stations, [readings[station.name] for station in stations])
    slopes = zip((station.name for station in stations), zone.weights.tolist(), strict=True)
    return [Value(None, zone.width, dict(slopes))]


def reads(characteristic: Characteristic, shown: Shown, heights: str) -> str:
    """What is read: `heights`, told with the most they may stray, or leaves under the straightedge."""
    if characteristic.options["method"] == "feeler":
        return feeler.largest_leaf(characteristic, shown)
    return heights.format(most=shown((characteristic.upper or 0) / MILLION))
