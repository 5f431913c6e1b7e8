"""Studies for one person: repeats of one or several parts, a reference block, and soft material."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

from qa.arithmetic.series import FloatArray, not_negative, number, series, share, varies
from qa.arithmetic.study_readings import study_readings
from qa.errors import CannotSay

if TYPE_CHECKING:
    import pandas as pd

_MANY = 1e9  # degrees of freedom of what is known rather than estimated


@dataclass(frozen=True, slots=True)
class OnePersonStudy:
    """Standard deviations, in the unit of the readings: repeatability with its interval, and between parts.

    `part` and `distinct_categories` are None where there is one part only.
    """

    repeatability: float
    low: float
    high: float
    dof: int
    part: float | None
    distinct_categories: int | None


@dataclass(frozen=True, slots=True)
class ReferenceStudy:
    """Bias, mean reading - reference, with its standard uncertainty and interval, and the repeatability.

    `t` and the two-sided `p` test whether there is any bias.
    """

    bias: float
    standard_uncertainty: float
    low: float
    high: float
    t: float
    p: float
    repeatability: float
    n: int


@dataclass(frozen=True, slots=True)
class ComplianceStudy:
    """How much smaller a firm hand reads the same places than a light one, on average, with its interval.

    `sd` is the standard deviation of single differences; `t` and the two-sided `p` test for any give.
    """

    compression: float
    standard_uncertainty: float
    low: float
    high: float
    t: float
    p: float
    sd: float
    n: int


@dataclass(frozen=True, slots=True)
class _MeanTest:
    mean: float
    u: float
    low: float
    high: float
    t: float
    p: float
    sd: float


def one_person_study(frame: pd.DataFrame, confidence: float = 0.95) -> OnePersonStudy:
    """Analyse repeats by one person of one part or several, moved away and set anew between readings.

    `frame` has columns part, trial, value. Raises CannotSay for readings missing, one trial only, or
    repeats that never differ. From ten repeats of one part the true repeatability lies between 0.69 and
    1.83 times the one found, at 95 %.
    """
    import pandas as pd

    purpose = "one-person study"
    level = share(confidence, purpose=purpose, name="confidence")
    readings = study_readings(pd.DataFrame(frame).assign(appraiser="one person"), purpose, fewest=(1, 1, 2))
    readings.refuse_equal_repeats(purpose)
    values = readings.values[:, 0, :]
    parts, trials = values.shape
    within = float(values.var(axis=1, ddof=1).mean())
    dof = parts * (trials - 1)
    low, high = _chi_square_ends(sqrt(within), dof, level)
    if parts == 1:
        return OnePersonStudy(sqrt(within), low, high, dof, None, None)
    part = sqrt(max(0.0, float(values.mean(axis=1).var(ddof=1)) - within / trials))
    return OnePersonStudy(sqrt(within), low, high, dof, part, max(1, int(1.41 * part / sqrt(within))))


def reference_study(
    values: Sequence[float],
    reference: float,
    step: float = 0.0,
    reference_uncertainty: float = 0.0,
    confidence: float = 0.95,
) -> ReferenceStudy:
    """Compare repeated readings `values` with a `reference` of known size (same unit).

    The uncertainty of the bias takes in the spread of the mean, the instrument's `step` (rectangular,
    step / √12) and the standard uncertainty of the reference. Raises CannotSay below two readings, or where
    all agree and neither step nor reference uncertainty is given.
    Source: AIAG Measurement Systems Analysis, 4th ed., ch. III (bias); GUM F.2.2.1 (step).
    """
    purpose = "reference study"
    data = series(values, purpose=purpose, least=2)
    size = number(reference, purpose=purpose, name="reference")
    known = not_negative(step, purpose=purpose, name="step") ** 2 / 12
    known += not_negative(reference_uncertainty, purpose=purpose, name="reference uncertainty") ** 2
    found = _test_mean(data - size, known, purpose, confidence)
    return ReferenceStudy(found.mean, found.u, found.low, found.high, found.t, found.p, found.sd, data.size)


def compliance_study(
    light: Sequence[float], firm: Sequence[float], step: float = 0.0, confidence: float = 0.95
) -> ComplianceStudy:
    """Compare readings of the same places with a `light` and a `firm` hand, in the same order and unit.

    Softwood gives under the jaws; a positive compression is what a firm hand takes off the reading. `step`
    is the instrument's, in both readings. Raises CannotSay below two pairs, for lengths that differ, or
    where all differences agree and no step is given. Source: paired t test.
    """
    purpose = "compliance study"
    soft, hard = series(light, purpose=purpose, least=2), series(firm, purpose=purpose, least=2)
    if soft.size != hard.size:
        raise CannotSay(
            f"{purpose}: {soft.size} light and {hard.size} firm readings; give one of each per place"
        )
    known = not_negative(step, purpose=purpose, name="step") ** 2 / 6
    found = _test_mean(soft - hard, known, purpose, confidence)
    return ComplianceStudy(found.mean, found.u, found.low, found.high, found.t, found.p, found.sd, soft.size)


def _test_mean(differences: FloatArray, known: float, purpose: str, confidence: float) -> _MeanTest:
    """Mean difference with the variance of its scatter and `known`, by Student's t at the combined dof."""
    from scipy.special import stdtr, stdtrit

    level = share(confidence, purpose=purpose, name="confidence")
    n, mean = differences.size, float(differences.mean())
    scatter = float(differences.var(ddof=1)) / n if varies(differences) else 0.0
    u = sqrt(scatter + known)
    if u <= 0:
        raise CannotSay(f"{purpose}: all readings agree to the last digit; give the instrument's step")
    share_known = known / scatter if scatter > known / _MANY else _MANY
    dof = min(_MANY, (n - 1) * (1 + share_known) ** 2)
    reach = float(stdtrit(dof, (1 + level) / 2)) * u
    p = 2 * float(stdtr(dof, -abs(mean) / u))
    return _MeanTest(mean, u, mean - reach, mean + reach, mean / u, p, sqrt(scatter * n))


def _chi_square_ends(sd: float, dof: int, level: float) -> tuple[float, float]:
    from scipy.special import chdtri

    low, high = (sd * sqrt(dof / chdtri(dof, tail)) for tail in ((1 - level) / 2, (1 + level) / 2))
    return float(low), float(high)
