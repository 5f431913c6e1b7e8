"""All that the builds so far say: each series charted and summed up, and the likely causes of what moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from qa.capability import Capability, HonestTolerance, capability, honest_tolerance
from qa.drift.chart import Chart, Spread, chart
from qa.drift.fixes import Fix, baselines, first_after, fixes
from qa.drift.panel import panel_of
from qa.drift.patterns import LONGEST
from qa.drift.shape import FEWEST as FEWEST_TO_CHANGE
from qa.drift.shape import Change, changes
from qa.drift.spread import Scaled, ShopVariation, lent_spread, one_scale, shop_variation
from qa.drift.tracks import tracks
from qa.errors import CannotSay
from qa.trend import MannKendall, TheilSen, mann_kendall, theil_sen

if TYPE_CHECKING:
    from qa.causes.likely import Cause
    from qa.drift.track import Track
    from qa.shop import Shop
    from qa.store.store import Store

CHARTED = 8
RECENT = 240
FALSE_SHARE = 0.05
"""Of the series said to have moved, the share chance may have put there (Benjamini and Hochberg 1995)."""


@dataclass(frozen=True, slots=True)
class Trend:
    """A steady slope per build with its interval, a test for any trend, and the likeliest change."""

    slope: TheilSen
    test: MannKendall
    change: Change | None


@dataclass(frozen=True, slots=True, eq=False)
class SeriesReport:
    """One series: its chart and what can be promised of it; `why` says what cannot be said, and why not.

    Numbers are deviations from target in the track's unit. `moved` is whether its change is clear among all
    the series looked at; `used` is the share of the tolerance that mean and two standard deviations use, the
    order of what matters for fit.
    """

    track: Track
    scaled: Scaled
    chart: Chart
    fixes: tuple[tuple[int, Fix], ...]
    variation: ShopVariation | None
    capability: Capability | None
    promise: HonestTolerance | None
    trend: Trend | None
    why: tuple[str, ...]
    moved: bool
    used: float
    charted: bool


@dataclass(frozen=True, slots=True, eq=False)
class DriftReport:
    """Every series asked for, what matters most for fit first; the causes, or why none can be named."""

    series: tuple[SeriesReport, ...]
    tracks: tuple[Track, ...]
    causes: tuple[Cause, ...]
    causes_why: str
    fixes: tuple[Fix, ...]


def report(
    shop: Shop,
    store: Store,
    part: str | None = None,
    characteristic: str | None = None,
    station: str | None = None,
) -> DriftReport:
    """Chart the series asked for and compare the causes of what moved in the whole shop.

    Without a part or characteristic the newest 240 builds are charted; causes are compared over the newest
    60, so that the cost does not grow with the years. ShopError names the near ones where one asked for is
    not known.
    """
    narrowed = bool(part or characteristic)
    asked = tracks(shop, store, part, characteristic, station, None if narrowed else RECENT)
    every = tracks(shop, store, newest=LONGEST) if narrowed else asked
    stated = fixes(store)
    chosen = [track for track in asked if track.primary or narrowed]
    made = {one.build for track in every for one in track.made}
    found, why = _causes(every, list(store.builds(made)))
    return DriftReport(
        tuple(_reports(chosen, stated, lent(every), found)), tuple(every), tuple(found), why, tuple(stated)
    )


def series_report(track: Track, stated: Sequence[Fix] = (), lent: Spread | None = None) -> SeriesReport:
    """Chart one series by itself and sum it up."""
    return _reports([track], stated, lent, ())[0]


def _causes(every: Sequence[Track], order: Sequence[str]) -> tuple[list[Cause], str]:
    from qa.causes.likely import likely_causes

    try:
        return likely_causes(panel_of(every, order)), ""
    except CannotSay as error:
        return [], str(error)


def lent(every: Sequence[Track]) -> Spread | None:
    """The spread that series show together, to steady that of one with few builds."""
    return lent_spread([track.deviations.tolist() for track in every if track.unit == "mm"])


def _reports(
    chosen: Sequence[Track], stated: Sequence[Fix], lent: Spread | None, causes: Sequence[Cause]
) -> list[SeriesReport]:
    scaled = [_scale(track) for track in chosen]
    found = changes([one.values for one in scaled])
    moved = clear([None if change is None else change.p for change in found])
    reports = [
        _report(track, scale, stated, lent, change, is_clear)
        for track, scale, change, is_clear in zip(chosen, scaled, found, moved, strict=True)
    ]
    caused = {name for cause in causes if len(cause.series) < 4 for name in cause.series}
    reports.sort(key=lambda one: (not (one.moved or one.track.name in caused), -one.used))
    return [replace(one, charted=place < CHARTED) for place, one in enumerate(reports)]


def clear(chances: Sequence[float | None], false_share: float = FALSE_SHARE) -> list[bool]:
    """Which of several tests stand, so that at most `false_share` of those that do are false on average.

    None where there was nothing to test. Source: Benjamini and Hochberg 1995, JRSS B 57.
    """
    known = sorted(p for p in chances if p is not None)
    passing = [p for rank, p in enumerate(known, 1) if p <= false_share * rank / len(known)]
    return [p is not None and bool(passing) and p <= passing[-1] for p in chances]


def _scale(track: Track) -> Scaled:
    halves = [
        None if one.lower is None or one.upper is None else (one.upper - one.lower) / 2 for one in track.made
    ]
    return one_scale(track.deviations.tolist(), [one.model for one in track.made], halves)


def _report(
    track: Track,
    scaled: Scaled,
    stated: Sequence[Fix],
    lent: Spread | None,
    change: Change | None,
    moved: bool,
) -> SeriesReport:
    lend = lent if track.unit == "mm" and not scaled.own_sigmas else None
    drawn = chart(scaled.values.tolist(), baselines(stated, track), lend)
    values = track.deviations.tolist()
    why: list[str] = list(track.left_out)
    variation = shop_variation(values, track.u) if len(values) > 1 else None
    able = promise = None
    if _limits(track) != (None, None):
        try:
            since = values[drawn.starts[-1] :]  # what was before a fix promises nothing for what comes
            able = capability(since, *_limits(track))
            promise = honest_tolerance(since, 0.0)
        except CannotSay as error:
            why.append(str(error))
    why += [drawn.why] if drawn.why else []
    lines = tuple(
        (i, fix) for fix in stated if fix.drawn_on(track) and (i := first_after(fix, track)) is not None
    )
    return SeriesReport(
        track, scaled, drawn, lines, variation, able, promise, _trend(values, change), tuple(why), moved,
        _used(track), charted=False,
    )  # fmt: skip


def _limits(track: Track) -> tuple[float | None, float | None]:
    """The limits of the newest build, as deviations."""
    return (track.made[-1].lower, track.made[-1].upper) if track.made else (None, None)


def _trend(values: list[float], change: Change | None) -> Trend | None:
    if len(values) < FEWEST_TO_CHANGE:
        return None
    return Trend(
        theil_sen(np.arange(len(values), dtype=float).tolist(), values), mann_kendall(values), change
    )


def _used(track: Track) -> float:
    values, (lower, upper) = track.deviations, _limits(track)
    if values.size < 2:
        return 0.0
    mean, reach = float(values.mean()), 2 * float(values.std(ddof=1))
    sides = [(upper, mean + reach), (lower and -lower, reach - mean)]
    return max((far / limit for limit, far in sides if limit and limit > 0), default=0.0)
