"""Can we hold ±0.1? What tolerance the builds show, and what one reading can prove of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from qa.arithmetic.series import FloatArray, positive
from qa.arithmetic.tolerance_intervals import tolerance_factor
from qa.conformity import Verdict, decide
from qa.errors import CannotSay

if TYPE_CHECKING:
    from qa.judge import Judged
    from qa.shop import Shop
    from qa.store.store import Store

Answer = Literal["yes", "no", "not provable with single readings", "too few builds"]
FEWEST = 5
PROVEN = 0.9  # of the readings must be decided by themselves: common practice, no source


@dataclass(frozen=True, slots=True)
class Hold:
    """Whether a size is held within ±`wanted` at every station, in mm.

    `needed` is the tolerance that takes in 95 % of places with 95 % confidence; `decided` the share of single
    readings that, with their uncertainty, prove the place conforms to ±`wanted` or fails it.
    """

    series: str
    wanted: float
    answer: Answer
    needed: float | None
    decided: float
    builds: int


def hold(series: str, judged: Sequence[Sequence[Judged]], wanted: float) -> Hold:
    """Answer for one size; `judged` holds the verdicts at its stations, build by build.

    The factor counts builds, not readings: places of one part are not independent. CannotSay where
    `wanted` is not above 0.
    """
    reach = positive(wanted, purpose="hold", name="the tolerance asked for")
    places = [item for build in judged for item in build if item.deviation is not None]
    if len(judged) < FEWEST or len(places) < FEWEST:
        return Hold(series, reach, "too few builds", None, 0.0, len(judged))
    values = np.array([item.deviation for item in places], float)
    factor = tolerance_factor(len(judged), 0.95, 0.95)
    needed = abs(float(values.mean())) + factor * float(values.std(ddof=1))
    conform = [_verdict(item, reach) for item in places]
    decided = sum(verdict == Verdict.CONFORMS for verdict in conform) / len(conform)
    answer: Answer = "yes" if needed <= reach else "no"
    noise = float(np.mean([(item.standard_uncertainty or 0.0) ** 2 for item in places]))
    if decided < PROVEN and not _surely_beyond(values, noise, len(judged), reach):
        answer = "not provable with single readings"
    return Hold(series, reach, answer, needed, decided, len(judged))


def _surely_beyond(values: FloatArray, noise: float, builds: int, reach: float) -> bool:
    """Whether 95 % of places need more than `reach`, their spread taken as small as it may be.

    `noise` is the variance the readings bring.
    """
    from scipy.special import chdtri

    variance = max(0.0, float(values.var(ddof=1)) - noise)
    least = (variance * (builds - 1) / float(chdtri(builds - 1, 0.05))) ** 0.5
    return bool(abs(float(values.mean())) + 1.96 * least > reach)


def _verdict(item: Judged, reach: float) -> Verdict:
    try:
        return Verdict(decide(item.deviation or 0.0, item.standard_uncertainty or 0.0, -reach, reach))
    except CannotSay:
        return Verdict.UNDECIDED


def hold_all(shop: Shop, store: Store, wanted: float, part: str | None = None) -> list[Hold]:
    """Answer for every size of the shop, or of one part, that is judged at stations against a target."""
    from qa.characteristics import kinds
    from qa.drift.builds import series

    found = []
    planned = {
        (one.name, item.name): item
        for plans in shop.plans.values()
        for plan in plans
        for one in plan.parts.values()
        for item in one.characteristics.values()
        if kinds()[item.kind].sized and item.target and part in (None, one.name)
    }
    for (name, characteristic), item in planned.items():
        by_build: dict[str, list[Judged]] = {}
        for station in item.stations:
            for point in series(shop, store, name, characteristic, station.name or None):
                by_build.setdefault(point.build, []).append(point.judged)
        found.append(hold(f"{name} {characteristic}", list(by_build.values()), wanted))
    return found
