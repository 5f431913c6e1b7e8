"""Was a batch cut wet? Builds cut with the room out of band, and what their wood did until glue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from qa.drift.track import MOVED

if TYPE_CHECKING:
    from qa.drift.track import Track

BEYOND = 3.0  # standard deviations of a reading's noise that a block must have moved to say so


@dataclass(frozen=True, slots=True)
class Batch:
    """Builds in a row cut with the room on one side of its band: mean humidity (%), and how far they moved.

    `moved` and `foretold` are mm between the cut and glue, by what was read and by the wood's coefficient;
    `shown` is whether the readings show it beyond their noise.
    """

    builds: tuple[str, ...]
    was: Literal["wet", "dry"]
    rh_percent: float
    band: tuple[float, float]
    series: str
    moved: float
    foretold: float
    shown: bool


def batches(tracks: Sequence[Track], bands: Mapping[str, tuple[float, float]]) -> list[Batch]:
    """Batches cut wet or dry, by the sizes read again before glue; `bands`: the glue band of each model."""
    found: list[Batch] = []
    for track in tracks:
        if track.station == MOVED:
            size = [t for t in tracks if t.absolute and t.key[:2] == track.key[:2]]
            cut_at = {one.build: one.rh for one in size[0].made} if size else {}
            found += _of_track(track, cut_at, bands)
    return found


def _of_track(
    track: Track, cut_at: Mapping[str, float | None], bands: Mapping[str, tuple[float, float]]
) -> list[Batch]:
    runs: list[tuple[str, list[int]]] = []
    for i, one in enumerate(track.made):
        rh, band = cut_at.get(one.build), bands.get(one.model, (0.0, 100.0))
        side = "" if rh is None else "wet" if rh > band[1] else "dry" if rh < band[0] else ""
        if not runs or runs[-1][0] != side:
            runs.append((side, []))
        runs[-1][1].append(i)
    return [_batch(track, side, run, cut_at, bands) for side, run in runs if side]


def _batch(
    track: Track,
    side: str,
    run: Sequence[int],
    cut_at: Mapping[str, float | None],
    bands: Mapping[str, tuple[float, float]],
) -> Batch:
    made = [track.made[i] for i in run]
    moved = sum(one.deviation for one in made) / len(made)
    noise = (sum(one.u**2 for one in made)) ** 0.5 / len(made)
    humid = [rh for one in made if (rh := cut_at.get(one.build)) is not None]
    return Batch(
        tuple(one.build for one in made),
        "wet" if side == "wet" else "dry",
        sum(humid) / len(humid),
        bands.get(made[0].model, (0.0, 100.0)),
        f"{track.part} {track.characteristic}",
        moved,
        sum(one.settled or 0.0 for one in made) / len(made),
        abs(moved) > BEYOND * noise,
    )
