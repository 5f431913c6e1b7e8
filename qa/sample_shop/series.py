"""What the invented shop measures: each size with its stations and its noise, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

CORNERS = ("top-left", "top-right", "bottom-left", "bottom-right")
SIDE = tuple(
    f"{place}-{edge}"
    for place in ("tail", "quarter", "middle", "three-quarter", "neck")
    for edge in ("lower", "upper")
)
STRIP = ("tail-end", "middle", "neck-end")
CENTRE = ("centre", "centre-left", "centre-right", "centre-lower", "centre-upper")
EDGE = tuple(f"edge-{end}-{side}" for end in ("lower", "upper") for side in ("left", "right"))
GRID = tuple(f"{end}-{side}" for end in ("lower", "middle", "upper") for side in ("left", "centre", "right"))
BOARD = tuple(f"{place}-{side}" for place in ("nut", "fret-12", "end") for side in ("left", "right"))
NECK = tuple(f"{place}-{side}" for place in ("heel", "middle", "nut") for side in ("left", "right"))
NO_STATION = ("",)

# Standard deviation of one reading repeated at one place: invented, of the size common practice knows.
DENSE, HARDWOOD, SPRUCE = 0.010, 0.015, 0.025


@dataclass(frozen=True, slots=True)
class Series:
    """One measured characteristic: its target, and standard deviations of builds, places and readings."""

    part: str
    characteristic: str
    target: float
    stations: tuple[str, ...]
    build_sd: float
    repeat_sd: float
    machine: str
    within_sd: float = 0.03
    read_with: str = "jaws"
    """jaws, depth rod (both of the bench's caliper) or feelers."""

    @property
    def name(self) -> str:
        """Part and characteristic as one word."""
        return f"{self.part}/{self.characteristic}"


SERIES = (
    Series("neck-block", "thickness", 46.0, CORNERS, 0.05, HARDWOOD, "hand plane"),
    Series("neck-block", "squareness", 0.03, NO_STATION, 0.015, 0.005, "disc sander", 0.0, "feelers"),
    Series("tail-block", "thickness", 22.0, CORNERS, 0.05, HARDWOOD, "hand plane"),
    Series("tail-block", "width", 78.0, ("top", "bottom"), 0.05, HARDWOOD, "band saw"),
    # 3.637 is the sagitta of a 74 mm chord at radius 190
    Series("tail-block", "radius-top", 3.637, NO_STATION, 0.015, HARDWOOD, "disc sander", 0.0, "depth rod"),
    Series(
        "tail-block", "radius-middle", 3.637, NO_STATION, 0.015, HARDWOOD, "disc sander", 0.0, "depth rod"
    ),
    Series(
        "tail-block", "radius-bottom", 3.637, NO_STATION, 0.015, HARDWOOD, "disc sander", 0.0, "depth rod"
    ),
    Series("side-left", "thickness", 1.90, SIDE, 0.04, HARDWOOD, "drum sander"),
    Series("side-right", "thickness", 1.90, SIDE, 0.04, HARDWOOD, "drum sander"),
    Series("lining", "width", 6.50, STRIP, 0.05, HARDWOOD, "table saw"),
    Series("lining", "height", 14.0, STRIP, 0.05, HARDWOOD, "hand plane"),
    Series("top", "centre-thickness", 2.90, CENTRE, 0.04, SPRUCE, "drum sander"),
    Series("top", "edge-thickness", 2.60, EDGE, 0.04, SPRUCE, "drum sander"),
    Series("back", "thickness", 2.60, GRID, 0.04, HARDWOOD, "drum sander"),
    Series("brace", "width", 8.0, ("lower-end", "middle", "upper-end"), 0.05, SPRUCE, "table saw"),
    Series("bridge-patch", "thickness", 2.20, CORNERS, 0.03, HARDWOOD, "drum sander"),
    # the shop can hold 0.1 on fingerboards, so their thickness spreads less than other parts
    Series("fingerboard", "thickness", 5.60, BOARD, 0.02, DENSE, "hand plane", 0.015),
    Series("fingerboard", "nut-width", 36.0, ("nut",), 0.04, DENSE, "hand plane"),
    Series("fingerboard", "fret-12-width", 45.0, ("fret-12",), 0.04, DENSE, "hand plane"),
    Series("fingerboard", "straightness", 0.03, NO_STATION, 0.012, 0.005, "hand plane", 0.0, "feelers"),
    Series("head-veneer", "thickness", 2.0, CORNERS, 0.03, HARDWOOD, "drum sander"),
    Series("neck-blank", "depth", 24.0, NECK, 0.05, HARDWOOD, "hand plane"),
    Series("binding", "thickness", 1.60, ("start", "middle", "finish"), 0.03, HARDWOOD, "drum sander"),
)
