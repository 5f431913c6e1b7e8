"""Moisture: moisture content of the wood, in per cent of its dry weight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.arithmetic import finite
from qa.characteristics import planned
from qa.characteristics.base import MILLION, Characteristic, Kind, Limits, Station, Unsaid, Value, each
from qa.characteristics.fields import Fields, PerCent
from qa.characteristics.sizes import judged_each, read_limits


def read(fields: Fields) -> Characteristic | None:
    """Limits as of a size but in per cent, at stations or read once; the instrument reads per cent too."""
    limits = read_limits(PerCent(fields))
    return judged_each(fields, limits and _possible(fields, limits), planned.places(fields), "%")


def _possible(fields: Fields, limits: Limits) -> Limits | None:
    for limit in (limits.lower, limits.upper):
        if limit is not None and not 0 <= limit <= 100 * MILLION:
            fields.problem("", f"allows {limit / MILLION:g} per cent; limits lie between 0 and 100 per cent")
            return None
    return limits


def evaluate(
    characteristic: Characteristic, stations: tuple[Station, ...], readings: Mapping[str, float]
) -> Sequence[Value | Unsaid]:
    """The reading itself at every station that has one."""
    return each(stations, readings, lambda reading: (finite.not_negative(reading, "moisture"), 1.0))


KINDS = (
    Kind(
        "moisture",
        "moisture content, in per cent",
        read,
        evaluate,
        each_station=True,
        planing_changes=False,
    ),
)
