"""Repeatability study by averages and ranges: the paper-and-pencil way, for comparison."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from typing import TYPE_CHECKING

import numpy as np

from qa.arithmetic.study_readings import study_readings
from qa.charts.chart_constants import constants

if TYPE_CHECKING:
    import pandas as pd

PURPOSE = "average and range study"


@dataclass(frozen=True, slots=True)
class AverageAndRange:
    """Standard deviations, in the unit of the readings, and the ranges they come from.

    `range_upper` is the limit of one part's range; `erratic` lists the (part, appraiser) pairs above it,
    to read again. `distinct_categories` is cut to a whole number, at least 1.
    """

    repeatability: float
    reproducibility: float
    gauge: float
    part: float
    total: float
    distinct_categories: int
    distinct_categories_exact: float
    mean_range: float
    range_upper: float
    appraiser_difference: float
    part_range: float
    erratic: tuple[tuple[str, str], ...]


def average_and_range(frame: pd.DataFrame) -> AverageAndRange:
    """Analyse a crossed study from ranges; less exact than `crossed_study`, and blind to interaction.

    `frame` has columns part, appraiser, trial, value. Raises CannotSay as `crossed_study` does.
    Source: AIAG Measurement Systems Analysis, 4th ed., ch. III, its constants computed.
    """
    readings = study_readings(frame, PURPOSE)
    readings.refuse_equal_repeats(PURPOSE)
    values = readings.values
    parts, appraisers, trials = values.shape
    repeats = constants(trials)
    ranges = np.ptp(values, axis=2)
    mean_range = float(ranges.mean())
    appraiser_difference = float(np.ptp(values.mean(axis=(0, 2))))
    part_range = float(np.ptp(values.mean(axis=(1, 2))))

    repeatability = mean_range / repeats.d2
    between = (appraiser_difference / constants(appraisers).d2_star) ** 2 - repeatability**2 / (
        parts * trials
    )
    reproducibility = sqrt(max(0.0, between))
    gauge = hypot(repeatability, reproducibility)
    part = part_range / constants(parts).d2_star
    exact = 1.41 * part / gauge
    upper = repeats.D4 * mean_range
    erratic = tuple((readings.parts[i], readings.appraisers[j]) for i, j in np.argwhere(ranges > upper))
    return AverageAndRange(
        repeatability,
        reproducibility,
        gauge,
        part,
        hypot(gauge, part),
        max(1, int(exact)),
        exact,
        mean_range,
        upper,
        appraiser_difference,
        part_range,
        erratic,
    )
