"""The faults put into the invented shop's readings, each by itself, in millimetres.

All take build numbers counted from 1 and give what is added to the readings of those builds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from qa.sample_shop.series import Series

FENCE_MOVES, FENCE_RESET = 9, 23
HOLD_CHANGED = 30
CALIPER_OFF = (26, 28, 30)
CALIPER_OFFSET = 0.06
BACK_REVISED = 33
SAWN = ("brace/width", "lining/width")
TAPER_SD_NORTH, TAPER_SD_SOUTH, TAPER_SD_CHANGED = 0.05, 0.06, 0.05

# (build, part, characteristic, station) -> what the display showed
TOLD: dict[tuple[int, str, str, str], float] = {
    (14, "side-left", "thickness", "quarter-lower"): 1.91,
    (16, "tail-block", "thickness", "top-left"): 22.19,
    (16, "tail-block", "thickness", "top-right"): 22.17,
    (16, "tail-block", "thickness", "bottom-left"): 22.02,
    (16, "tail-block", "thickness", "bottom-right"): 22.05,
    (19, "top", "centre-thickness", "centre-left"): 2.85,
    (26, "top", "centre-thickness", "centre-lower"): 2.79,
    (30, "top", "centre-thickness", "centre-lower"): 2.79,
}
FUZZ = 0.25
FUZZED = (
    (5, "top", "edge-thickness", "edge-upper-left"),
    (13, "lining", "height", "middle"),
    (20, "top", "edge-thickness", "edge-lower-right"),
    (27, "back", "thickness", "upper-left"),
)
READ_AGAIN_AFTER_FUZZ = (5, 27)
SKIPPED = (11, "side-right", "thickness", "middle-upper")
SKIP_NOTED_AT = "middle-lower"
SKIP_NOTE = "middle-upper skipped: torn edge, the jaws find no sound wood"
SHAVED = {"top-left": 22.10, "top-right": 22.09}
SHAVED_BUILD = 16


def fence(builds: NDArray[np.int_]) -> NDArray[np.float64]:
    """Widen what the table saw rips: 0.02 a build from OM-09 to OM-22, then 0.01 after the reset."""
    creep = 0.02 * (builds - FENCE_MOVES + 1)
    return np.where(builds < FENCE_MOVES, 0.0, np.where(builds < FENCE_RESET, creep, 0.01))


def taper(builds: NDArray[np.int_], noise: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Draw tail-block taper, top minus bottom: `noise` is the part of its spread the readings bring."""
    south = builds % 2 == 0
    changed = south & (builds >= HOLD_CHANGED)
    mean = np.where(changed, 0.04, np.where(south, 0.13, 0.01))
    spread = np.where(changed, TAPER_SD_CHANGED, np.where(south, TAPER_SD_SOUTH, TAPER_SD_NORTH))
    return np.asarray(
        mean + np.sqrt(spread**2 - noise**2) * rng.standard_normal(builds.size), dtype=np.float64
    )


def lean(series: Series, builds: NDArray[np.int_], rng: np.random.Generator) -> NDArray[np.float64]:
    """Spread each build's taper over the four corners, half up at the top, half down at the bottom."""
    noise = float(np.hypot(series.within_sd, series.repeat_sd))
    ends = np.array([0.5 if station.startswith("top") else -0.5 for station in series.stations])
    return np.outer(taper(builds, noise, rng), ends)


def caliper_offset(series: Series, builds: NDArray[np.int_]) -> NDArray[np.float64]:
    """Add the glue on a jaw of CAL-2: sizes read between the jaws only."""
    off = np.isin(builds, CALIPER_OFF) & (series.read_with == "jaws")
    return np.where(off, CALIPER_OFFSET, 0.0)


def added(series: Series, builds: NDArray[np.int_], rng: np.random.Generator) -> NDArray[np.float64]:
    """Add up what really happened to a part: builds by stations."""
    true = np.zeros((builds.size, len(series.stations)))
    if series.name in SAWN:
        true += fence(builds)[:, None]
    if series.name == "tail-block/thickness":
        true += lean(series, builds, rng)
    if series.name == "back/thickness":
        true -= np.where(builds >= BACK_REVISED, 0.05, 0.0)[:, None]
    return true
