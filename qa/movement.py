"""How the room's air will move a measured part: from the humidity it was read at to another.

Theory covers a part evenly moist, free to move, its grain along its edges (USDA Wood Handbook chapter 13).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic
from qa.errors import CannotSay
from qa.judge import Latest
from qa.plan import Part, Reference
from qa.wood import Direction, Species, coefficient, rh_window, size_at, species


@dataclass(frozen=True, slots=True)
class Moved:
    """One measured size and what it will be at another humidity.

    Sizes in millimetres, humidities in per cent; `window` is the humidity within which it stays in
    tolerance, None where there is none. `taken_at` and `rh` say when and at what humidity it was read.
    """

    characteristic: str
    station: str
    size: float
    rh: float
    taken_at: str
    to_rh: float
    moved: float
    window: tuple[float, float] | None
    within: bool


SHAPES = {
    "taper": "a taper moves in proportion to itself, which is nothing one can measure",
    "twist": "twist from uneven moisture cannot be predicted: let the part rest and read it again",
    "flatness": "cup and bow come from uneven moisture and cannot be predicted: let it rest, read it again",
    "straightness": "bow comes from uneven moisture and cannot be predicted: let it rest, read it again",
    "squareness": "a part evenly moist with its grain along an edge stays square; otherwise none can say",
    "radius": "a curved face keeps its gap to the mould but for a share of its sagitta too small to read",
}
"""What theory says of shapes, by kind: it gives no number for them."""


def movements(
    part: Part,
    latest: Latest,
    reference: Reference,
    to_rh: float | None = None,
    known: Mapping[str, Species] | None = None,
) -> list[Moved]:
    """What each measured size of a part will be at `to_rh`, the plan's reference unless given.

    Sizes read at no known humidity, or of wood or grain the plan does not name, are left out. CannotSay where
    the plan names a species there are no figures for.
    """
    wanted = reference.rh_percent if to_rh is None else to_rh
    found = []
    for item in part.characteristics.values():
        direction = direction_of(part, item)
        if direction is None or not part.species:
            continue
        per_percent = coefficient(species(part.species, known), direction)
        for station in item.stations:
            row = latest.get((item.name, station.name))
            if row is not None and row.rh_percent is not None:
                found.append(_moved(item, row.value, row.rh_percent, row.taken_at, station.name, per_percent,
                                    wanted, reference.temp_c))  # fmt: skip
    return found


def direction_of(part: Part, item: Characteristic) -> Direction | None:
    """The direction of the wood along a size, by the name of the size or its kind."""
    if not kinds()[item.kind].sized:
        return None
    for name in (item.name, item.kind, item.kind.removeprefix("area-")):
        found = part.grain.get(name)
        if found in ("radial", "tangential", "longitudinal"):
            return found  # type: ignore[return-value]
    return None


def _moved(
    item: Characteristic,
    size: float,
    rh: float,
    taken_at: str,
    station: str,
    per_percent: float,
    to_rh: float,
    temp_c: float,
) -> Moved:
    limits = item.limits(station)
    lower, upper = (None if edge is None else edge / MILLION for edge in (limits.lower, limits.upper))
    after = size_at(size, per_percent, rh, to_rh, temp_c)
    try:
        window = rh_window(size, per_percent, lower, upper, rh, temp_c)
    except CannotSay:
        window = None
    within = (lower is None or after >= lower) and (upper is None or after <= upper)
    return Moved(item.name, station, size, rh, taken_at, to_rh, after - size, window, within)
