"""A series over builds as arrays, with what was recorded of every build of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, sqrt
from typing import TYPE_CHECKING

import numpy as np

from qa.arithmetic.series import FloatArray
from qa.instruments import Instrument

if TYPE_CHECKING:
    from qa.drift.builds import Point

MEAN, MOVED, LESS = "mean of stations", "moved before glue", " less "
SLIP = 3.0  # a size further than this factor from its target is another unit or a slipped point, not drift


@dataclass(frozen=True, slots=True)
class Made:
    """One build of a track: what it deviates by, and what was recorded of it.

    `u` is the readings' own standard uncertainty, that changes from build to build; limits are
    deviations too. `settled` is how far (mm) the wood would have moved from its reference climate, None where
    that is not known.
    """

    build: str
    deviation: float
    u: float
    lower: float | None
    upper: float | None
    instrument: str
    bench: str
    machine: str
    rh: float | None
    model: str
    taken_at: str
    settled: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One characteristic at one station (None: of the whole part) over the builds, oldest first.

    Deviations are from each build's own target, in `unit`. `absolute` says that a zero offset of the caliper
    is in it; `primary` that it is charted without being asked for. `left_out` says in words what was not
    taken in, and why.
    """

    part: str
    characteristic: str
    station: str | None
    unit: str
    absolute: bool
    primary: bool
    made: tuple[Made, ...]
    left_out: tuple[str, ...] = field(default=())

    @property
    def key(self) -> tuple[str, str, str]:
        """Part, characteristic and station, "" for the whole part."""
        return self.part, self.characteristic, self.station or ""

    @property
    def name(self) -> str:
        """Part, characteristic and station as one phrase."""
        return " ".join(filter(None, self.key))

    @property
    def short(self) -> str:
        """The same without "mean of stations"."""
        return self.name.removesuffix(f" {MEAN}")

    @property
    def builds(self) -> tuple[str, ...]:
        return tuple(one.build for one in self.made)

    @property
    def deviations(self) -> FloatArray:
        return np.array([one.deviation for one in self.made], float)

    @property
    def u(self) -> float:
        """The readings' own standard uncertainty, the root mean square over the builds."""
        return float(np.sqrt(np.mean([one.u**2 for one in self.made]))) if self.made else 0.0


def is_computed(view: str) -> bool:
    """Whether a view of a characteristic is made of several readings, and has no verdict of its own."""
    return view in (MEAN, MOVED) or LESS in view


def own_uncertainty(instrument: Instrument, weights: Sequence[float] | None = None) -> float:
    """What repeats and the display's step leave uncertain of a sum of readings with those weights.

    The instrument's permissible error is not in it: it stays the same from build to build.
    """
    own = hypot(instrument.repeatability, instrument.resolution / sqrt(12))
    return own * sqrt(sum(weight**2 for weight in (weights or (1.0,))))


def of_points(
    part: str,
    characteristic: str,
    station: str,
    points: Sequence[Point],
    instruments: Mapping[str, Instrument],
) -> Track:
    """A track of one station from judged points, the latest reading of each build."""
    made, left_out = [], []
    for point in points:
        judged = point.judged
        if judged.value is None or not np.isfinite(judged.value):
            continue
        told = slipped(point.build, judged.value, judged.target)
        if told:
            left_out.append(told)
            continue
        zero = judged.target or 0.0
        instrument = instruments.get(point.instrument) or Instrument("")
        lower, upper = (None if n is None else n - zero for n in (judged.lower, judged.upper))
        made.append(
            Made(
                point.build, judged.value - zero, own_uncertainty(instrument), lower, upper,
                point.instrument, point.bench, point.machine, point.rh_percent, "", judged.taken_at or "",
            )
        )  # fmt: skip
    unit = points[0].judged.unit if points else "mm"
    return Track(part, characteristic, station, unit, True, True, tuple(made), tuple(left_out))


def slipped(build: str, value: float, target: float | None) -> str:
    """Why a size so far from its target is not taken for drift, or ""."""
    if not target or target < 0:
        return ""
    if 1 / SLIP <= value / target <= SLIP:
        return ""
    times = value / target
    said = f"{times:.3g} times" if times > 0 else "nowhere near"
    doubt = "left out; was it inches, or a slipped point?"
    return f"{build} reads {value:g}, {said} its target of {target:g}: {doubt}"
