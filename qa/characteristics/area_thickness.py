"""Area thickness: a plate read over a grid, judged at each station and as a whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from qa.characteristics import planned, sizes
from qa.characteristics.base import Characteristic, Kind, Limits, Station, Unsaid, Value
from qa.characteristics.fields import Fields

RANGE, MEAN = "range", "mean"


def read(fields: Fields) -> Characteristic | None:
    """Limits as of a size, at two or more stations.

    `range_limit` is the most by which the thickest place may exceed the thinnest; `mean_tolerance` holds the
    mean of all stations to the target. Each is optional and judged once every station is read.
    """
    limits = sizes.read_limits(fields)
    overall = _overall(fields, limits)
    stations = fields.stations()
    planned.keep_words(fields, stations, (RANGE, MEAN))
    if len(stations) == 1:
        fields.problem("stations", "needs two or more; for one place, ask for thickness")
    characteristic = sizes.judged_each(fields, limits, stations, "mm")
    return characteristic and replace(characteristic, overall=overall)


def _overall(fields: Fields, limits: Limits | None) -> dict[str, Limits]:
    found = {}
    most = fields.length("range_limit", positive=True)
    tolerance = fields.tolerance("mean_tolerance")
    if most is not None:
        found[RANGE] = Limits(None, None, most)
    if tolerance is not None and limits is not None:
        if limits.target is None:
            fields.problem("mean_tolerance", "needs a target to lie about")
        else:
            found[MEAN] = Limits(limits.target, limits.target + tolerance[0], limits.target + tolerance[1])
    return found


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value | Unsaid]:
    """The reading at every station that has one; once all have one, their range and mean where planned."""
    found = list(sizes.evaluate(characteristic, stations, readings))
    values = {item.station or "": item.value for item in found if isinstance(item, Value)}
    if len(values) == len(stations):
        whole = {RANGE: _range, MEAN: _mean}
        found += [whole[name](values) for name in characteristic.overall]
    return found


def _range(values: Mapping[str, float]) -> Value:
    thickest = max(values, key=lambda name: values[name])
    thinnest = min((name for name in values if name != thickest), key=lambda name: values[name])
    note = f"thinnest {values[thinnest]:.2f} at {thinnest}, thickest {values[thickest]:.2f} at {thickest}"
    return Value(RANGE, values[thickest] - values[thinnest], {thickest: 1.0, thinnest: -1.0}, note)


def _mean(values: Mapping[str, float]) -> Value:
    share = 1 / len(values)
    return Value(MEAN, sum(values.values()) * share, dict.fromkeys(values, share))


KINDS = (
    Kind(
        "area-thickness",
        "thickness at each station of a plate, its range and its mean",
        read,
        evaluate,
        sized=True,
        each_station=True,
    ),
)
