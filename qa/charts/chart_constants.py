"""Control chart constants for a subgroup of n, from the distribution of the range of n normal values."""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, lgamma, sqrt

import numpy as np

from qa.errors import CannotSay

LARGEST_SUBGROUP = 100
_NODES = 240
_REACH = 9.0  # standard deviations; the normal tail beyond holds 1e-19


@dataclass(frozen=True, slots=True)
class ChartConstants:
    """Constants for subgroups of `n`, named as the trade prints them."""

    n: int
    d2: float
    d3: float
    c4: float

    @property
    def A2(self) -> float:  # noqa: N802 - the printed name
        """Limits of averages from the mean range."""
        return 3 / (self.d2 * sqrt(self.n))

    @property
    def A3(self) -> float:  # noqa: N802 - the printed name
        """Limits of averages from the mean standard deviation."""
        return 3 / (self.c4 * sqrt(self.n))

    @property
    def B3(self) -> float:  # noqa: N802 - the printed name
        """Lower limit of a standard deviation, as a multiple of the mean one."""
        return max(0.0, 1 - 3 * sqrt(1 - self.c4**2) / self.c4)

    @property
    def B4(self) -> float:  # noqa: N802 - the printed name
        """Upper limit of a standard deviation, as a multiple of the mean one."""
        return 1 + 3 * sqrt(1 - self.c4**2) / self.c4

    @property
    def D3(self) -> float:  # noqa: N802 - the printed name
        """Lower limit of a range, as a multiple of the mean range."""
        return max(0.0, 1 - 3 * self.d3 / self.d2)

    @property
    def D4(self) -> float:  # noqa: N802 - the printed name
        """Upper limit of a range, as a multiple of the mean range."""
        return 1 + 3 * self.d3 / self.d2

    @property
    def E2(self) -> float:  # noqa: N802 - the printed name
        """Limits of individual values from the mean range."""
        return 3 / self.d2

    @property
    def d2_star(self) -> float:
        """Root mean square of the range: the divisor that makes one single range squared unbiased."""
        return sqrt(self.d2**2 + self.d3**2)


@lru_cache(maxsize=LARGEST_SUBGROUP)
def constants(n: int) -> ChartConstants:
    """Return the chart constants for subgroups of `n`, 2 to 100, computed rather than looked up.

    d2 and d3 are the mean and standard deviation of the range of n standard normal values, c4 the mean of
    their standard deviation. Raises CannotSay for any other n.
    """
    if isinstance(n, bool) or n != int(n) or not 2 <= n <= LARGEST_SUBGROUP:
        raise CannotSay(f"chart constants: a subgroup has 2 to {LARGEST_SUBGROUP} values, not {n!r}")
    size = int(n)
    mean, mean_square = _range_moments(size)
    c4 = sqrt(2 / (size - 1)) * exp(lgamma(size / 2) - lgamma((size - 1) / 2))
    return ChartConstants(size, mean, sqrt(mean_square - mean**2), c4)


def _range_moments(n: int) -> tuple[float, float]:
    """Mean and mean square of the range: its density integrated over the range and the smallest value."""
    from scipy.special import ndtr

    node, weight = np.polynomial.legendre.leggauss(_NODES)
    smallest, spread = _REACH * node[:, None], _REACH * (node[None, :] + 1)
    largest = smallest + spread
    between = ndtr(largest) - ndtr(smallest)
    density = n * (n - 1) * np.exp(-(smallest**2 + largest**2) / 2) / (2 * np.pi) * between ** (n - 2)
    cell = density * (_REACH * weight[:, None]) * (_REACH * weight[None, :])
    return float((cell * spread).sum()), float((cell * spread**2).sum())
