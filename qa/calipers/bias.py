"""How far off an instrument reads, told from readings of known sizes: offset and scale, with uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from qa.arithmetic import finite
from qa.errors import CannotSay
from qa.instruments import ENOUGH_REPEATS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

SIGNIFICANT = 2.0
"""Of standard uncertainties: from there a scale error counts as shown. Common practice, no source."""

CROOKED = 0.01
"""Below this p the errors do not lie on a straight line."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line y = intercept + slope * x with the covariance of its two coefficients.

    `chi_square` is the weighted sum of squared residuals, on n - 2 degrees of freedom; `dof` those of the
    uncertainties, infinite where the uncertainty of y was given.
    """

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    covariance: float
    chi_square: float
    n: int
    dof: float

    def at(self, x: float) -> tuple[float, float]:
        """The line at x, and its standard uncertainty there (JCGM 100:2008, H.3.4)."""
        variance = self.u_intercept**2 + 2 * x * self.covariance + (x * self.u_slope) ** 2
        return self.intercept + self.slope * x, math.sqrt(max(0.0, variance))


def weighted_line(x: ArrayLike, y: ArrayLike, u: ArrayLike | None = None) -> Line:
    """The weighted least-squares line through points x[n], y[n] with standard uncertainties u[n] of y.

    Without `u` the points count alike and their scatter about the line gives the uncertainty (n >= 3).
    CannotSay for fewer than two different x, lengths that differ, or a `u` not above zero.
    Source: JCGM 100:2008, H.3; weights 1 / u².
    """
    xs, ys = finite.vector(x, "x of the line", 2), finite.vector(y, "y of the line", 2)
    us = np.ones_like(xs) if u is None else finite.vector(u, "u of the line", 2)
    if not len(xs) == len(ys) == len(us):
        raise CannotSay(f"a line needs as many x as y and u, got {len(xs)}, {len(ys)} and {len(us)}")
    if us.min() <= 0:
        raise CannotSay("a line needs standard uncertainties above zero")
    if u is None and len(xs) < 3:
        raise CannotSay("the scatter about a line needs at least 3 points")
    weights = us**-2
    centre = float(np.average(xs, weights=weights))
    away = xs - centre
    spread = float(weights @ away**2)
    if len(set(xs.tolist())) < 2 or spread <= 0:
        raise CannotSay("a line needs points at two different x")
    mean, slope = float(np.average(ys, weights=weights)), float(weights @ (away * ys)) / spread
    chi_square = float(weights @ (ys - mean - slope * away) ** 2)
    scale = chi_square / (len(xs) - 2) if u is None else 1.0
    v_mean, v_slope = scale / float(weights.sum()), scale / spread
    return Line(
        mean - slope * centre,
        slope,
        math.sqrt(v_mean + centre**2 * v_slope),
        math.sqrt(v_slope),
        -centre * v_slope,
        chi_square,
        len(xs),
        len(xs) - 2 if u is None else math.inf,
    )


@dataclass(frozen=True, slots=True)
class Bias:
    """What readings of known sizes say of an instrument's error, in its unit.

    `mean` is the mean error, with standard uncertainty `u_mean`; `line` the error by size, None where only
    one size was read, so that offset and scale cannot be told apart. `low` and `high` are the smallest and
    largest size read. `noise` is the standard uncertainty of one reading, with `dof`. `straight` is None
    with fewer than three sizes; False where the errors do not lie on a line, and then the uncertainties are
    widened until they cover that.
    """

    mean: float
    u_mean: float
    line: Line | None
    low: float
    high: float
    noise: float
    dof: float
    straight: bool | None
    widened: float = 1.0

    @property
    def scaled(self) -> bool:
        """Whether an error that grows with size is shown, or only a common offset."""
        return self.line is not None and abs(self.line.slope) > SIGNIFICANT * self.line.u_slope * self.widened

    def covers(self, size: float) -> bool:
        """Whether a size lies among those read, and more than one was."""
        return self.line is not None and self.low - 1e-9 <= size <= self.high + 1e-9

    def at(self, size: float) -> tuple[float, float]:
        """The error at a size and its standard uncertainty, in the instrument's unit.

        Without a scale error shown it is the mean error; the uncertainty is that of the line all the same,
        so that it grows away from the sizes read.
        """
        if self.line is None:
            return self.mean, self.u_mean
        error, u = self.line.at(size)
        return (error if self.scaled else self.mean), u * self.widened


def bias(
    references: Sequence[float],
    readings: Sequence[float],
    step: float,
    reference_u: Sequence[float] | float = 0.0,
    usual_noise: float | None = None,
) -> Bias:
    """The error of an instrument by size: readings[n] of references[n], in its unit, in any order.

    `step` is that of the display, and stands for the repeatability too (a caliper on a hard block repeats to
    one step: common practice, no source), or `usual_noise` where given. Where sizes were read so often that
    the scatter has four degrees of freedom, that is taken. `reference_u` is the standard uncertainty of
    each reference, or of all. CannotSay for none, lengths that differ, or a step not above zero.
    Source: JCGM 100:2008, 4.2 (scatter), F.2.2.1 (step), H.3 (line).
    """
    known = finite.vector(references, "references")
    errors = finite.vector(readings, "readings") - known if len(references) == len(readings) else None
    if errors is None:
        raise CannotSay(f"each reading needs its reference, got {len(readings)} and {len(references)}")
    width = finite.positive(step, "display step")
    u_known = np.broadcast_to(finite.array(reference_u, "uncertainty of the references"), known.shape)
    sizes, place, counts = np.unique(known, return_inverse=True, return_counts=True)
    means = np.bincount(place, errors) / counts
    noise, dof = _noise(errors - means[place], len(known) - len(sizes), width, usual_noise)
    u_size = np.sqrt(noise**2 / counts + width**2 / 12 + (np.bincount(place, u_known) / counts) ** 2)
    weights = u_size**-2
    mean, u_mean = float(np.average(means, weights=weights)), float(weights.sum() ** -0.5)
    if len(sizes) == 1:
        return Bias(mean, u_mean, None, float(sizes[0]), float(sizes[0]), noise, dof, None)
    line = weighted_line(sizes, means, u_size)
    straight, widened = _straight(line)
    return Bias(mean, u_mean, line, float(sizes[0]), float(sizes[-1]), noise, dof, straight, widened)


def _noise(residuals: NDArray[np.float64], dof: int, step: float, usual: float | None) -> tuple[float, float]:
    """Standard deviation of one reading of a block, and its degrees of freedom."""
    if dof >= ENOUGH_REPEATS:
        return float(np.sqrt(residuals @ residuals / dof)), dof
    return (step if usual is None else finite.not_negative(usual, "repeatability")), math.inf


def _straight(line: Line) -> tuple[bool | None, float]:
    """Whether the points lie on the line, and by how much the uncertainties must grow where they do not."""
    free = line.n - 2
    if free < 1:
        return None, 1.0
    from scipy.special import chdtrc

    if float(chdtrc(free, line.chi_square)) >= CROOKED:
        return True, 1.0
    return False, math.sqrt(line.chi_square / free)
