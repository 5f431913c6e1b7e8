"""Repeatability study: how much of what readings show is the caliper and the hand, and how much the parts."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from qa.arithmetic.average_and_range import AverageAndRange, average_and_range
from qa.arithmetic.instrument_studies import (
    ComplianceStudy,
    OnePersonStudy,
    ReferenceStudy,
    compliance_study,
    one_person_study,
    reference_study,
)
from qa.arithmetic.series import number, positive, share
from qa.arithmetic.study_readings import study_readings
from qa.arithmetic.variance_components import Anova, AnovaRow, analyse, spans, variances, with_sums

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "AnovaRow",
    "AverageAndRange",
    "ComplianceStudy",
    "Component",
    "CrossedStudy",
    "OnePersonStudy",
    "ReferenceStudy",
    "average_and_range",
    "compliance_study",
    "crossed_study",
    "one_person_study",
    "reference_study",
]

PURPOSE = "crossed study"
POOL_ABOVE = 0.25


@dataclass(frozen=True, slots=True)
class Component:
    """One source of variation: its standard deviation with an interval, and its shares in per cent.

    `of_total` compares standard deviations and does not add up to 100; `of_variance` does.
    `of_tolerance` is 6 sd / tolerance, None where no tolerance is given.
    """

    name: str
    sd: float
    low: float
    high: float
    of_total: float
    of_variance: float
    of_tolerance: float | None


@dataclass(frozen=True, slots=True)
class CrossedStudy:
    """Standard deviations, in the unit of the readings, of each source.

    gauge² = repeatability² + reproducibility² + interaction²; total² = gauge² + part². `reproducibility` is
    between appraisers, without the interaction of appraiser and part.

    `distinct_categories` is 1.41 part / gauge cut to a whole number, at least 1, as commonly printed;
    `distinct_categories_exact` is before cutting. `table` is the analysis of variance, row by row, and
    `components` the sources above with intervals and shares. `notes` says what was pooled or set to zero.
    """

    repeatability: float
    reproducibility: float
    interaction: float
    gauge: float
    part: float
    total: float
    distinct_categories: int
    distinct_categories_exact: float
    table: tuple[AnovaRow, ...]
    components: tuple[Component, ...]
    notes: tuple[str, ...]


def crossed_study(
    frame: pd.DataFrame,
    tolerance: float | None = None,
    confidence: float = 0.95,
    pool_above: float = POOL_ABOVE,
) -> CrossedStudy:
    """Analyse a study in which every appraiser reads every part the same number of times.

    `frame` has columns part, appraiser, trial, value. `tolerance` is the full width of the limits. Parts
    and appraisers count as drawn at random. The interaction is pooled with repeatability where its p is
    above `pool_above` (0.25 is common practice: pool only what shows next to no sign of being there).
    A variance estimated below zero counts as zero and is noted. Intervals are generalised ones, 20 000
    draws of the mean squares from a fixed seed; with two or three appraisers that of reproducibility is
    wide, as it should be.

    Raises CannotSay for columns or readings missing (naming part and appraiser), fewer than two parts,
    appraisers or trials, or repeats that never differ.
    Source: AIAG Measurement Systems Analysis, 4th ed., ch. III; intervals after Hamada and Weerahandi 2000,
    Journal of Quality Technology 32 (from memory).
    """
    level = share(confidence, purpose=PURPOSE, name="confidence")
    width = None if tolerance is None else positive(tolerance, purpose=PURPOSE, name="tolerance")
    threshold = number(pool_above, purpose=PURPOSE, name="pool_above")
    readings = study_readings(frame, PURPOSE)
    readings.refuse_equal_repeats(PURPOSE)

    anova = analyse(readings.values, threshold)
    raw = variances(anova)
    held = with_sums({name: np.maximum(value, 0) for name, value in raw.items()})
    sd = {name: sqrt(float(value)) for name, value in held.items()}
    ends = spans(anova, level)
    exact = 1.41 * sd["part"] / sd["gauge"]
    return CrossedStudy(
        **sd,
        distinct_categories=max(1, int(exact)),
        distinct_categories_exact=exact,
        table=anova.rows,
        components=tuple(_component(name, sd, ends[name], width) for name in sd),
        notes=_notes(anova, raw),
    )


def _component(
    name: str, sd: dict[str, float], ends: tuple[float, float], tolerance: float | None
) -> Component:
    ratio = sd[name] / sd["total"]
    of_tolerance = None if tolerance is None else 600 * sd[name] / tolerance
    return Component(name, sd[name], *ends, 100 * ratio, 100 * ratio**2, of_tolerance)


def _notes(anova: Anova, raw: dict[str, float]) -> tuple[str, ...]:
    notes = []
    if anova.pooled:
        notes.append(f"interaction pooled with repeatability (p = {anova.interaction_p:.3f})")
    notes += [f"{name} came out below zero and counts as zero" for name, value in raw.items() if value < 0]
    return tuple(notes)
