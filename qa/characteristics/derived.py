"""What taper and twist share: a weighted sum of the readings of a size, held to a limit about a target."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from qa.characteristics.base import Characteristic, Station, Value
from qa.characteristics.fields import Fields

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Weigh = Callable[[list[tuple[float, float]]], "NDArray[np.float64]"]
"""From the places [x, y] of stations in millimetres to what the reading at each is multiplied by."""


def read(fields: Fields) -> Characteristic | None:
    """A characteristic `of` a size with one `limit` either side of its `target`, 0 unless given."""
    kind = fields.text("kind")
    of = fields.text("of", needed=True)
    target = fields.length("target") or 0
    limit = fields.length("limit", needed=True, positive=True)
    confidence = fields.within("confidence", 0.5, 1.0, 0.95)
    if limit is None or not of:
        return None
    held_to = target, target - limit, target + limit
    return Characteristic(fields.name, kind, "mm", *held_to, of=of, confidence=confidence)


def weights(stations: tuple[Station, ...], weigh: Weigh) -> dict[str, float]:
    """What the reading at each station is multiplied by, without those left out; CannotSay as `weigh`."""
    found = weigh([(station.x, station.y) for station in stations]).tolist()
    return {station.name: weight for station, weight in zip(stations, found, strict=True) if weight}


def weighed(shares: Mapping[str, float], readings: Mapping[str, float]) -> list[Value]:
    """The weighted sum of the readings: one value for the part."""
    return [Value(None, sum(share * readings[name] for name, share in shares.items()), shares)]
