"""A series of builds in a few numbers, and as distances from what the plan asks."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from qa.conformity import Verdict
from qa.drift.builds import Point


@dataclass(frozen=True, slots=True)
class FromTarget:
    """One build as distances from its own plan's target, in the characteristic's unit; limits may be absent.

    Where the plan sets no target the distances are from zero: the values themselves.
    """

    build: str
    deviation: float
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class SeriesSummary:
    """A series in short. Means and standard deviations (of a sample, n - 1) are of the deviations, in `unit`.

    They are None where there are too few builds to tell. `outside` and `undecided` name builds, oldest first.
    """

    builds: int
    unit: str
    mean_deviation: float | None
    standard_deviation: float | None
    outside: tuple[str, ...]
    undecided: tuple[str, ...]


def from_target(points: Sequence[Point]) -> list[FromTarget]:
    """Every point as distances from the target its own build was planned for, so that revisions compare."""
    found = []
    for point in points:
        judged = point.judged
        if judged.value is None or not math.isfinite(judged.value):
            continue
        zero = judged.target or 0.0
        lower, upper = (None if limit is None else limit - zero for limit in (judged.lower, judged.upper))
        found.append(FromTarget(point.build, judged.value - zero, lower, upper))
    return found


def summarise(points: Sequence[Point]) -> SeriesSummary:
    """Count, mean and spread of a series, and the builds that do not conform or are undecided."""
    deviations = [row.deviation for row in from_target(points)]
    return SeriesSummary(
        len(deviations),
        points[0].judged.unit if points else "mm",
        statistics.fmean(deviations) if deviations else None,
        statistics.stdev(deviations) if len(deviations) > 1 else None,
        _builds(points, Verdict.DOES_NOT_CONFORM),
        _builds(points, Verdict.UNDECIDED),
    )


def _builds(points: Sequence[Point], verdict: Verdict) -> tuple[str, ...]:
    return tuple(point.build for point in points if point.judged.verdict == verdict)
