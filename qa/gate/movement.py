"""How the room's air will move a measured part: from the humidity it was read at to another.

Theory covers a part evenly moist, free to move, its grain along its edges (USDA Wood Handbook chapter 13).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from qa.characteristics import kinds
from qa.characteristics.base import Characteristic, in_units
from qa.errors import CannotSay
from qa.geometry import radius_from_sagitta, sagitta
from qa.judge import Latest
from qa.plans.plan import Part, Reference
from qa.record import BenchReading
from qa.wood import Direction, Species, coefficient, rh_between, rh_window, size_at, species


@dataclass(frozen=True, slots=True)
class Moved:
    """One measured value and what it will be at another humidity.

    `size` (a size, or the gap of a radius to its mould) and `moved` in millimetres, humidities in per cent;
    `window` is the humidity within which it stays in tolerance, None where there is none. `taken_at` and `rh`
    say when and at what humidity it was read.
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


SCALE = (1.0, 99.0)
"""A hygrometer that shows 0 or 100 % is at the end of its scale: the air is taken as this near it."""
REST = "comes from uneven moisture, so no theory tells it: let the part rest, then read it again"
SHAPES = {
    "taper": "moves in proportion to itself, which is too little to read",
    "twist": REST,
    "flatness": REST,
    "straightness": REST,
    "squareness": "stays as it is while the part is evenly moist and its grain runs along an edge",
    "offset": "moves in proportion to itself, which is too little to read",
    "gap": "depends on both parts of the joint: hold them together again in the air they will be glued in",
    "bevel": "moves in proportion to itself, which is too little to read",
    "radius": "needs the grain of width and thickness in the plan",
}
"""Why there is no number for how a shape moves, by kind."""


def movements(
    part: Part,
    latest: Latest,
    reference: Reference,
    to_rh: float | None = None,
    known: Mapping[str, Species] | None = None,
) -> list[Moved]:
    """What each measured size and radius of a part will be at `to_rh`, the plan's reference unless given.

    Those read at no known humidity, or of wood or grain the plan does not name, are left out. CannotSay where
    the plan names a species there are no figures for.
    """
    if not part.species:
        return []
    wood = species(part.species, known)
    wanted = reference.rh_percent if to_rh is None else to_rh
    found: list[Moved] = []
    for item in part.characteristics.values():
        for station in item.stations:
            row = latest.get((item.name, station.name))
            if row is not None and row.rh_percent is not None:
                moved = _radius if item.kind == "radius" else _size
                rh = min(max(row.rh_percent, SCALE[0]), SCALE[1])
                told = moved(part, item, row, rh, wanted, wood, reference.temp_c)
                found += (replace(one, rh=row.rh_percent) for one in told)
    return found


def unpredicted(part: Part) -> dict[str, str]:
    """Why no number tells how a shape of a part moves, by the shape's name."""
    told = _curved(part)
    shapes = (item for item in part.characteristics.values() if item.kind in SHAPES)
    return {item.name: SHAPES[item.kind] for item in shapes if not (item.kind == "radius" and told)}


def direction_of(part: Part, item: Characteristic) -> Direction | None:
    """The direction of the wood along a size, by the name of the size or its kind."""
    if not kinds()[item.kind].sized:
        return None
    return _grain(part, item.name, item.kind, item.kind.removeprefix("area-"))


def _grain(part: Part, *names: str) -> Direction | None:
    found = (part.grain.get(name) for name in names)
    return next((way for way in found if way in ("radial", "tangential", "longitudinal")), None)  # type: ignore[misc]


def _curved(part: Part) -> tuple[Direction, Direction] | None:
    """The grain along the chord of a rounded face (the part's width) and along its sagitta (thickness)."""
    across, through = _grain(part, "width"), _grain(part, "thickness")
    return (across, through) if across and through else None


def _size(
    part: Part, item: Characteristic, row: BenchReading, rh: float, to_rh: float, wood: Species, temp_c: float
) -> Iterator[Moved]:
    direction = direction_of(part, item)
    if direction is None:
        return
    per_percent = coefficient(wood, direction)
    lower, upper = _limits(item, row.station)
    after = size_at(row.value, per_percent, rh, to_rh, temp_c)
    try:
        window = rh_window(row.value, per_percent, lower, upper, rh, temp_c)
    except CannotSay:
        window = None
    yield _moved(item, row, rh, to_rh, row.value, after, window)


def _radius(
    part: Part, item: Characteristic, row: BenchReading, rh: float, to_rh: float, wood: Species, temp_c: float
) -> Iterator[Moved]:
    """The gap of a rounded face to its mould, the mould taken as it is."""
    grain = _curved(part)
    if grain is None:
        return
    across, through = (coefficient(wood, way) for way in grain)
    chord, mould, width = (item.number(name) for name in ("chord", "radius", "fit_width"))
    lower, upper = _limits(item, row.station)

    def gap_at(humidity: float) -> float:
        wider, thicker = (size_at(1.0, each, rh, humidity, temp_c) for each in (across, through))
        return swollen_sagitta(chord, row.value, width, wider, thicker) - sagitta(mould, width)

    try:
        window = rh_between(gap_at, lower, upper, rh, temp_c)
        yield _moved(item, row, rh, to_rh, gap_at(rh), gap_at(to_rh), window)
    except CannotSay:
        return


def swollen_sagitta(chord: float, read: float, width: float, wider: float, thicker: float) -> float:
    """Sagitta over `width` of an arc once its wood has swollen to `wider` across and `thicker` through.

    `read` is its sagitta over `chord` before, minus where hollow (mm); `wider` and `thicker` are ratios. A
    circle swollen unevenly is an ellipse: what now spans `width` spanned width / wider before, and all its
    heights have grown alike. CannotSay as qa.geometry.radius_from_sagitta and sagitta.
    """
    if abs(read) < 1e-9:
        return 0.0
    before = sagitta(radius_from_sagitta(chord, abs(read)), width / wider)
    return thicker * before * (1 if read > 0 else -1)


def _limits(item: Characteristic, station: str) -> tuple[float | None, float | None]:
    limits = item.limits(station)
    return in_units(limits.lower), in_units(limits.upper)


def _moved(
    item: Characteristic,
    row: BenchReading,
    rh: float,
    to_rh: float,
    before: float,
    after: float,
    window: tuple[float, float] | None,
) -> Moved:
    lower, upper = _limits(item, row.station)
    within = (lower is None or after >= lower) and (upper is None or after <= upper)
    return Moved(item.name, row.station, before, rh, row.taken_at, to_rh, after - before, window, within)
