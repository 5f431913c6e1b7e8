"""Shape from readings: flatness, straightness, taper, twist, radius. Millimetres in, millimetres out."""

from qa.geometry.circle import angle, gap_over, radius_from_sagitta, radius_gap, radius_gap_slope, sagitta
from qa.geometry.stations import taper, taper_weights, twist, twist_weights
from qa.geometry.zone import (
    Zone,
    flatness,
    flatness_zone,
    least_squares_flatness,
    straightness,
    straightness_zone,
)

__all__ = [
    "Zone",
    "angle",
    "flatness",
    "flatness_zone",
    "gap_over",
    "least_squares_flatness",
    "radius_from_sagitta",
    "radius_gap",
    "radius_gap_slope",
    "sagitta",
    "straightness",
    "straightness_zone",
    "taper",
    "taper_weights",
    "twist",
    "twist_weights",
]
