"""Likely causes: which of caliper, machine, bench, the room's air or time best explains what moved.

Nested linear models of the recorded factors are compared by their gain in likelihood less the cost of what
they are free in (Akaike's criterion, corrected for few builds: Hurvich and Tsai 1989), strongest first, each
taken out before the next is sought. How often chance alone gives such a gain somewhere is counted by
shuffling the builds of what is left over.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from qa.arithmetic.series import FloatArray
from qa.causes.design import Design, by_kind, design
from qa.causes.panel import Kind, Panel
from qa.causes.scores import Scatter, Score, again, best, effect, greatest_gains, other_side, scatter
from qa.drift.patterns import LONGEST, Shape
from qa.errors import CannotSay

if TYPE_CHECKING:
    from numpy.typing import NDArray

FEWEST = 5
ALPHA = 0.03
MARGIN = 4.0
"""Of gain: a model so far behind has considerably less support (Burnham and Anderson 2002; from memory)."""
PLAIN_GAIN = 12.0  # below it chance alone reaches the gain so often that no shuffling is needed to see it
AMONG_MOST = 8
SHUFFLES = 399
_AT_ONCE = 50  # shuffles, which bounds the memory they take
_SEED = 20_240_503
Gains: TypeAlias = "dict[Kind, FloatArray]"


@dataclass(frozen=True, slots=True)
class Rival:
    """The best other cause of the same event, and by how much less it gains."""

    kind: Kind
    name: str
    margin: float


@dataclass(frozen=True, slots=True)
class Cause:
    """A likely cause, of builds `since` to `until` (None: it lasts), and how sure.

    `amount` is in mm at its most (for humidity the share of full movement the wood took up), `error` its
    standard error; `series` are those it moved. `p` is the chance of such a gain anywhere in the panel.
    `settled` is false where a rival is too near: `more_builds` estimates how many would tell them apart.
    `looks` is how many looks in a row, now and before the last build, it was found at: 1 or 2.
    """

    kind: Kind
    name: str
    shape: Shape
    since: str
    until: str | None
    amount: float
    error: float
    series: tuple[str, ...]
    gain: float
    p: float
    rival: Rival | None
    settled: bool
    more_builds: int | None
    looks: int


def likely_causes(panel: Panel, alpha: float = ALPHA, shuffles: int = SHUFFLES) -> list[Cause]:
    """The causes a panel shows, the strongest first; none where nothing moved more than chance would.

    `alpha` is the chance of naming any cause of a panel that has none. The newest 60 builds are judged.
    With fewer than 5 / `alpha` `shuffles` nothing can be named. CannotSay below five builds.
    """
    if len(panel.builds) < FEWEST:
        raise CannotSay(
            f"likely causes: needs {FEWEST} or more builds, and there are {len(panel.builds)}; "
            f"measure {FEWEST - len(panel.builds)} more"
        )
    recent = panel.newest(LONGEST)
    layout = design(recent)
    found, left = search(recent, layout, PLAIN_GAIN)
    if not found:
        return []
    kinds = {item.kind for item in layout.scanned}
    asked = kinds & {score.candidate.kind for score, _ in found}
    gains = shuffled_gains(recent, layout, left, shuffles, asked)
    kept = [(score, rival, chance(gains, score, len(kinds) + 1)) for score, rival in found]
    before = {score.candidate.cause for score, _ in _before(recent)}
    return [
        _cause(recent, layout, score, rival, p, 2 if score.candidate.cause in before else 1)
        for score, rival, p in kept
        if p <= alpha
    ]


def search(
    panel: Panel, layout: Design, least: float
) -> tuple[list[tuple[Score, tuple[Score, float] | None]], FloatArray]:
    """Take out one cause after another while it gains `least`: (score, rival), and what is left[n, J].

    A rival is another cause that loses most of its power with this one; it comes with its margin.
    """
    present = np.isfinite(panel.deviations)
    left = centred(np.where(present, panel.deviations, 0.0), present)
    kinds = by_kind(layout).values()
    by = scatter(panel, left)
    scores = best(layout, kinds, left, by)
    found: list[tuple[Score, tuple[Score, float] | None]] = []
    while scores and scores[0].gain >= least and len(found) < AMONG_MOST:
        first = _further_off(layout, scores, panel, left, by)
        left = centred(left - effect(layout, first), present)
        by = scatter(panel, left)
        rival = _rival(layout, first, scores, left, by)
        found.append((first, None if rival is None else (rival, first.gain - rival.gain)))
        scores = best(layout, kinds, left, by)
    return found, left


def centred(values: FloatArray, present: NDArray[np.bool_]) -> FloatArray:
    """Less the mean of each series; 0 where there is no reading."""
    mean = values.sum(axis=0, where=present) / np.maximum(present.sum(axis=0), 1)
    return np.where(present, values - mean, 0.0)


def _further_off(layout: Design, scores: list[Score], panel: Panel, left: FloatArray, by: Scatter) -> Score:
    """The best score; of two that tell one contrast from either side, the one whose readings are further off.

    One bench high looks much the same as the other bench low until they are held against the target; so do
    the builds since a step and those before it.
    """
    first = scores[0]
    near = [first, *(s for s in scores[1:] if s.gain > first.gain - MARGIN and _same(first, s))]
    sides = [side for score in near if (side := other_side(layout, score, left, by))]
    return max([*near, *sides], key=lambda score: _off(layout, score, panel))


def _off(layout: Design, score: Score, panel: Panel) -> float:
    touched = score.candidate.touches
    if score.pattern is not None:
        touched = touched & (layout.patterns.rows[score.pattern] > 0)[:, None]
    return abs(float(panel.deviations[touched].mean())) if touched.any() else 0.0


def _rival(layout: Design, first: Score, scores: list[Score], after: FloatArray, by: Scatter) -> Score | None:
    for score in scores:
        if score.gain <= 0:
            return None
        if score.candidate is first.candidate or _same(first, score):
            continue
        if again(layout, score, after, by) < score.power / 2:
            return score
    return None


def _same(first: Score, other: Score) -> bool:
    """The same contrast from its other side: one bench or caliper against the rest, in the same series."""
    if first.candidate.kind != other.candidate.kind or first.candidate.kind not in ("bench", "instrument"):
        return False
    ours, theirs = (np.flatnonzero(s.candidate.touches.any(axis=0)) for s in (first, other))
    return bool(np.array_equal(ours, theirs))


def shuffled_gains(
    panel: Panel, layout: Design, left: FloatArray, shuffles: int, asked: Collection[Kind]
) -> Gains:
    """The greatest gain of each kind of cause asked for in that many shuffles of the builds of left[n, J].

    Whole builds are shuffled, so that what the series of a build share stays shared. What lands where a
    series has no reading is dropped and the series centred anew: else a part measured in half its series
    would lend the others a share of scatter that they do not have.
    """
    random, by = np.random.default_rng(_SEED), scatter(panel, left)
    present = np.isfinite(panel.deviations)
    orders = [random.permutation(len(left)) for _ in range(shuffles)]
    kinds = {kind: own for kind, own in by_kind(layout).items() if kind in asked}
    found: dict[Kind, list[FloatArray]] = {kind: [] for kind in kinds}
    for start in range(0, shuffles, _AT_ONCE):
        some = orders[start : start + _AT_ONCE]
        mixed = np.array([centred(np.where(present, left[order], 0.0), present) for order in some])
        for kind, own in kinds.items():
            found[kind].append(greatest_gains(own, mixed, by))
    return {kind: np.concatenate(gains) for kind, gains in found.items()}


def chance(gains: Gains, score: Score, kinds: int) -> float:
    """How often chance gives a cause of the kind such a gain, times the kinds there are (Bonferroni).

    The room's air has no pattern to choose, so its chance is that of chi-square with one degree of freedom.
    """
    from scipy.special import chdtrc

    kind = score.candidate.kind
    if kind not in gains:
        return min(1.0, kinds * float(chdtrc(1, score.power)))
    return min(1.0, kinds * float(1 + (gains[kind] >= score.gain).sum()) / (1 + gains[kind].size))


def _before(panel: Panel) -> list[tuple[Score, tuple[Score, float] | None]]:
    """What a look before the last build would have found."""
    if len(panel.builds) <= FEWEST:
        return []
    earlier = panel.rows(slice(0, -1))
    return search(earlier, design(earlier), PLAIN_GAIN)[0]


def _cause(
    panel: Panel, layout: Design, score: Score, rival: tuple[Score, float] | None, p: float, looks: int
) -> Cause:
    item = score.candidate
    touched = item.touches.any(axis=1)
    if score.pattern is not None:
        touched &= layout.patterns.rows[score.pattern] > 0
    at = np.flatnonzero(touched)
    own = np.flatnonzero(item.touches.any(axis=1))
    settled = rival is None or rival[1] >= MARGIN
    more = None
    if rival and not settled:
        more = min(99, max(1, ceil(at.size * (MARGIN / max(rival[1], MARGIN / 20) - 1))))
    return Cause(
        item.kind,
        item.name,
        "throughout" if score.pattern is None else layout.patterns.shape(score.pattern),
        panel.builds[at[0]],
        None if at[-1] == own[-1] else panel.builds[at[-1]],
        score.amount,
        score.error,
        tuple(panel.series[j] for j in np.flatnonzero(item.touches.any(axis=0))),
        score.gain,
        p,
        rival and Rival(rival[0].candidate.kind, rival[0].candidate.name, rival[1]),
        settled,
        more,
        looks,
    )
