"""The uncertainty of a reading and of what is computed from readings (JCGM 100:2008, the GUM)."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from qa.arithmetic import finite
from qa.errors import CannotSay

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Contribution:
    """One line of a budget: a standard uncertainty, its degrees of freedom, its sensitivity and name.

    u is in the unit of the input, sensitivity in units of the result per unit of the input.
    CannotSay where u is negative, dof is not above zero, or a number is not finite (dof may be infinite).
    """

    u: float
    dof: float = math.inf
    sensitivity: float = 1.0
    name: str = ""

    def __post_init__(self) -> None:
        label = f" of {self.name}" if self.name else ""
        finite.not_negative(self.u, f"standard uncertainty{label}")
        finite.number(self.sensitivity, f"sensitivity{label}")
        if not self.dof > 0:
            raise CannotSay(f"degrees of freedom{label} must be above zero, got {self.dof}")

    @property
    def part(self) -> float:
        """What this line adds to the result, as a standard uncertainty: |sensitivity| * u."""
        return abs(self.sensitivity) * self.u


@dataclass(frozen=True, slots=True)
class Combined:
    """A combined standard uncertainty, its effective degrees of freedom, and its budget, largest first."""

    u: float
    dof: float
    contributions: tuple[Contribution, ...]


@dataclass(frozen=True, slots=True)
class ReadingBudget:
    """What makes one reading uncertain.

    own: contributions independent of every other reading (resolution, repeatability).
    shared: contributions by cause ("zero:caliper-1"). The same cause in two readings is one error.
    """

    own: tuple[Contribution, ...] = ()
    shared: Mapping[str, Contribution] = field(default_factory=dict)


def combine(contributions: Iterable[Contribution]) -> Combined:
    """Combine independent contributions by the root sum of squares.

    Effective degrees of freedom by Welch-Satterthwaite, neither rounded nor truncated; infinite where u is
    zero. CannotSay for an empty budget. Source: JCGM 100:2008 5.1.2 and G.4.1.
    """
    budget = tuple(sorted(contributions, key=lambda c: c.part, reverse=True))
    if not budget:
        raise CannotSay("an uncertainty budget needs at least one contribution")
    u = math.hypot(*(c.part for c in budget))
    if not math.isfinite(u):
        raise CannotSay("the combined uncertainty is too large to compute; check the units of the budget")
    shares = math.fsum((c.part / u) ** 4 / c.dof for c in budget) if u else 0.0
    return Combined(u=u, dof=1.0 / shares if shares else math.inf, contributions=budget)


def propagate(sensitivities: Mapping[str, float], budgets: Mapping[str, ReadingBudget]) -> Combined:
    """Uncertainty of a quantity computed from several readings, some of whose errors are shared.

    sensitivities: d result / d reading, by reading name; budgets: by the same names.
    u^2 = sum_i c_i^2 u_own_i^2 + sum_cause (sum_i c_i u_cause_i)^2: one caliper's zero error cancels in a
    difference, two calipers' do not. A cause has the smallest dof given for it. CannotSay where a reading
    has no budget. Source: JCGM 100:2008 5.2.2 (correlation 1 within a cause, 0 between causes).
    """
    missing = sorted(set(sensitivities) - set(budgets))
    if missing:
        raise CannotSay(f"no uncertainty budget for: {', '.join(missing)}")
    lines: list[Contribution] = []
    causes: defaultdict[str, list[tuple[float, float]]] = defaultdict(list)
    for reading, c in sensitivities.items():
        slope = finite.number(c, f"sensitivity to {reading}")
        lines += [_scaled(line, slope, reading) for line in budgets[reading].own]
        for cause, line in budgets[reading].shared.items():
            causes[cause].append((slope * line.sensitivity * line.u, line.dof))
    for cause, parts in causes.items():
        total = abs(math.fsum(part for part, _ in parts))
        lines.append(Contribution(total, min(dof for _, dof in parts), name=cause))
    return combine(lines)


def _scaled(line: Contribution, slope: float, reading: str) -> Contribution:
    name = ", ".join(part for part in (line.name, reading) if part)
    return Contribution(line.u, line.dof, slope * line.sensitivity, name)


def coverage_factor(dof: float, p: float) -> float:
    """Two-sided coverage factor k for coverage probability `p` (0 < p < 1) and `dof`, whole or not.

    Student's t quantile, normal where dof is infinite. Truncating dof first, as JCGM 100:2008 G.4.1 lets
    one do, is the caller's choice. CannotSay outside those ranges. Source: JCGM 100:2008 G.3, table G.2.
    """
    from scipy.special import ndtri, stdtrit

    if not dof > 0:
        raise CannotSay(f"degrees of freedom must be above zero, got {dof}")
    if not 0 < p < 1:
        raise CannotSay(f"coverage probability must lie between 0 and 1, got {p}")
    upper = 0.5 + p / 2
    return float(ndtri(upper) if math.isinf(dof) else stdtrit(dof, upper))


def expanded(combined: Combined, p: float = 0.95) -> float:
    """Expanded uncertainty U = k u at coverage probability `p`, in the unit of u (JCGM 100:2008 G.6.4)."""
    return coverage_factor(combined.dof, p) * combined.u


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a value anywhere within +-half_width alike: a/sqrt(3) (JCGM 100:2008 4.3.7)."""
    return finite.not_negative(half_width, "half width") / math.sqrt(3)


def resolution(step: float) -> float:
    """Standard uncertainty of a display that counts in `step`: step/sqrt(12) (JCGM 100:2008 F.2.2.1)."""
    return finite.not_negative(step, "display step") / math.sqrt(12)


def type_a(values: ArrayLike, averaged: int | None = None, name: str = "repeatability") -> Contribution:
    """Contribution from repeated readings, values[n >= 2], with n - 1 degrees of freedom.

    u = s / sqrt(averaged), `averaged` being how many readings the result is a mean of: all n unless given,
    1 for the uncertainty of a single later reading. Source: JCGM 100:2008 4.2.2, 4.2.3.
    """
    readings = finite.vector(values, "repeated readings", at_least=2)
    count = len(readings) if averaged is None else averaged
    if count < 1:
        raise CannotSay(f"a result is a mean of at least one reading, got {count}")
    return Contribution(float(readings.std(ddof=1)) / math.sqrt(count), len(readings) - 1, name=name)


def thermal_expansion(
    length: float, coefficient: float, u_temperature: float, dof: float = math.inf, name: str = "temperature"
) -> Contribution:
    """Contribution of an uncertain temperature to a length.

    length in mm, coefficient per kelvin, u_temperature (standard uncertainty) in kelvin; the sensitivity is
    length * coefficient, in mm per kelvin. Source: JCGM 100:2008 H.1.3.4.
    """
    slope = finite.number(length, "length") * finite.number(coefficient, "expansion coefficient")
    return Contribution(u_temperature, dof, slope, name)
