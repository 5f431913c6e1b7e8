"""Series over the same builds, laid side by side for the comparison of causes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from qa.causes.panel import Panel
from qa.drift.track import MOVED, Track


def panel_of(tracks: Sequence[Track], order: Sequence[str]) -> Panel:
    """The tracks in millimetres side by side, builds in the order given; those without a spread are left out.

    Differences of unplanned pairs of ends count as series like any other.
    """
    tracks = [t for t in tracks if t.unit == "mm" and len(t.made) > 1 and np.ptp(t.deviations) > 0]
    have = {one.build for track in tracks for one in track.made}
    builds = tuple(build for build in order if build in have)
    place = {build: i for i, build in enumerate(builds)}
    shape = (len(builds), len(tracks))
    deviations, settled = np.full(shape, np.nan), np.full(shape, np.nan)
    instruments, machines = np.full(shape, "", object), np.full(shape, "", object)
    benches = np.full(len(builds), "", object)
    for j, track in enumerate(tracks):
        for one in track.made:
            i = place[one.build]
            deviations[i, j] = one.deviation
            instruments[i, j], machines[i, j] = one.instrument, one.machine
            benches[i] = benches[i] or one.bench
            if one.settled is not None and (track.absolute or track.station == MOVED):
                settled[i, j] = one.settled
    return Panel(
        builds,
        tuple(track.name for track in tracks),
        deviations,
        instruments.astype(str),
        machines.astype(str),
        benches.astype(str),
        np.array([track.absolute for track in tracks], bool),
        settled,
    )
