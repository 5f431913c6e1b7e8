"""What of a spread is the shop's and what the caliper's, and what sister series say of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, log, sqrt

import numpy as np

from qa.arithmetic.series import FloatArray, not_negative, series, share
from qa.drift.chart import BASELINE, Spread

PURPOSE = "shop variation"
_SISTERS = 6
MOST_LENT = 20.0
_SURE = 0.05  # chance at which models are taken to differ in spread


@dataclass(frozen=True, slots=True)
class ShopVariation:
    """Standard deviation of the parts from build to build, the readings' noise taken out, with its interval.

    `hidden` says that the noise could account for all that is seen: `low` is then 0.
    """

    sigma: float
    low: float
    high: float
    seen: float
    noise: float
    n: int

    @property
    def hidden(self) -> bool:
        return self.low <= 0


@dataclass(frozen=True, slots=True)
class Scaled:
    """Deviations brought to one scale where models differ; `says` tells how, "" where nothing was done."""

    values: FloatArray
    own_sigmas: bool
    says: str


def shop_variation(values: Sequence[float], noise: float, confidence: float = 0.95) -> ShopVariation:
    """Take the readings' own standard uncertainty `noise` out of the spread of `values` (same unit).

    sigma² = s² - noise², held at 0; the interval is that of s by chi-square, less the same. The noise is
    taken as known. CannotSay below two values or where the noise is negative.
    Source: variance components of a one-way layout, JCGM 100:2008 H.5 (idea); common practice.
    """
    from scipy.special import chdtri

    data = series(values, purpose=PURPOSE, least=2)
    u = not_negative(noise, purpose=PURPOSE, name="the readings' noise")
    level, dof = share(confidence, purpose=PURPOSE, name="confidence"), data.size - 1
    seen = float(data.var(ddof=1)) if np.ptp(data) > 0 else 0.0
    low, high = (dof * seen / float(chdtri(dof, tail)) for tail in ((1 - level) / 2, (1 + level) / 2))
    sigma, least, most = (sqrt(max(0.0, variance - u**2)) for variance in (seen, low, high))
    return ShopVariation(sigma, least, most, sqrt(seen), u, data.size)


def lent_spread(baselines: Sequence[Sequence[float]]) -> Spread | None:
    """The spread that sister series agree on, and how many degrees of freedom their likeness is worth.

    Takes the first eight values of each in the same unit; None for fewer than six that vary. At most 20.
    Source: Smyth 2004, Statistical Applications in Genetics and Molecular Biology 3(1), section 6.2.
    """
    from scipy.special import digamma, polygamma

    found = [np.asarray(some, float)[:BASELINE] for some in baselines if len(some) >= BASELINE]
    squares = [float(some.var(ddof=1)) for some in found if np.ptp(some) > 0]
    if len(squares) < _SISTERS:
        return None
    half = (BASELINE - 1) / 2
    logs = np.log(squares) - digamma(half) + log(half)
    excess = float(logs.var(ddof=1)) - float(polygamma(1, half))
    dof = min(MOST_LENT, 2 * _trigamma_inverse(excess) if excess > 0 else inf)
    variance = exp(float(logs.mean()) + float(digamma(dof / 2)) - log(dof / 2))
    return Spread(sqrt(variance), dof)


def _trigamma_inverse(value: float) -> float:
    from scipy.optimize import brentq
    from scipy.special import polygamma

    if value < 1e-3:
        return 1 / value
    return float(brentq(lambda x: float(polygamma(1, x)) - value, 1e-3, 1e4))


def one_scale(values: Sequence[float], models: Sequence[str], tolerances: Sequence[float | None]) -> Scaled:
    """Bring deviations of several models to one scale, where a test says that their spreads differ.

    Brown and Forsythe's test (Levene's about medians) compares models of three or more builds. Where it
    finds a difference (p below 0.05), each is divided by its own standard deviation; a model of fewer builds
    goes by the shares of its tolerance where tolerances differ. `tolerances` are half widths, None for none.
    Source: NIST/SEMATECH e-Handbook 1.3.5.10.
    """
    from scipy.stats import levene

    data = series(values, purpose="scale", least=0)
    names = list(dict.fromkeys(models))
    groups = {name: data[[model == name for model in models]] for name in names}
    if len(names) < 2:
        return Scaled(data, False, "")
    tested = [group for group in groups.values() if group.size >= 3 and np.ptp(group) > 0]
    if len(tested) == len(names):
        p = float(levene(*tested, center="median").pvalue)
        if not p < _SURE:
            told = f"{len(names)} models together: their spreads do not differ (Brown-Forsythe p = {p:.2f})"
            return Scaled(data, False, told)
        own = {name: float(group.std(ddof=1)) for name, group in groups.items()}
        told = f"each model in its own standard deviations: their spreads differ (Brown-Forsythe p = {p:.3f})"
        return Scaled(data / np.array([own[model] for model in models]), True, told)
    widths = {tolerance for tolerance in tolerances if tolerance}
    if len(widths) > 1 and None not in tolerances:
        usual = max(widths)
        told = "each model by its own tolerance: too few builds of one to test whether their spreads differ"
        return Scaled(data * usual / np.array([t or usual for t in tolerances]), False, told)
    return Scaled(data, False, f"{len(names)} models together: too few builds of one to test their spreads")
