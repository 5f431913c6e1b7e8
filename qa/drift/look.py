"""One series as a screen looks at it: which views there are of a size, and one of them charted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from qa.characteristics import kinds
from qa.conformity import Verdict
from qa.drift.builds import recent
from qa.drift.differences import PAIRS, pairs
from qa.drift.report import DriftReport, SeriesReport, lent, series_report
from qa.drift.track import LESS, MEAN, MOVED, Track, is_computed, of_points
from qa.drift.tracks import repeating, tracks
from qa.errors import ShopError
from qa.plans.plan import unknown

if TYPE_CHECKING:
    from qa.causes.likely import Cause
    from qa.drift.builds import Point
    from qa.plans.plan import Part
    from qa.shop import Shop
    from qa.store.store import Store


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """One view of a characteristic, its newest builds charted.

    `points` are the judged builds of the view, by build; none where it is no single verdict (a mean of
    stations, a difference). `rescaled` says that the chart is on another scale than the deviations, as where
    models differ.
    """

    report: SeriesReport
    points: dict[str, Point]
    rescaled: bool

    def verdict(self, build: str) -> Verdict | None:
        point = self.points.get(build)
        return None if point is None else point.judged.verdict


def parts_of(shop: Shop) -> dict[str, Part]:
    """Every part of every plan by its name, the newest revision of each, characteristics of all revisions."""
    return {
        name: part
        for revisions in shop.plans.values()
        for plan in revisions
        for name, part in plan.parts.items()
    }


def views(found: DriftReport, shop: Shop, part: str, characteristic: str) -> list[str]:
    """The series there are of a characteristic, the most telling first; "" is the whole part's own.

    First those of the readings so far (the mean of stations, what moved, one side less the other), then each
    station. ShopError names the near ones where the part or characteristic is not known.
    """
    parts = parts_of(shop)
    if part not in parts:
        raise ShopError(unknown("part", part, list(parts)))
    planned = parts[part].characteristics.get(characteristic)
    read = _read(found.tracks, part, characteristic)
    if planned is None and not read:
        raise ShopError(
            unknown(f"characteristic of {part}", characteristic, list(parts[part].characteristics))
        )
    stations = _stations(parts[part], characteristic)
    of_its_own = [MEAN] if len(stations) > 1 else stations[:1] or [""]
    return list(dict.fromkeys([*(track.station or "" for track in read), *of_its_own, *stations]))


def _read(every: tuple[Track, ...], part: str, characteristic: str) -> list[Track]:
    return [track for track in every if track.key[:2] == (part, characteristic)]


def _stations(part: Part, characteristic: str) -> list[str]:
    planned = part.characteristics.get(characteristic)
    if planned is None or not kinds()[planned.kind].each_station:
        return []
    return [*(one.name for one in planned.stations if one.name), *planned.overall]


def look(
    shop: Shop, store: Store, found: DriftReport, part: str, characteristic: str, view: str = ""
) -> Look | None:
    """One view charted; None where no build has been read there yet.

    Without a view, the first there is. `found` is the shop's whole report, from which all is taken that can
    be, so that one series says the same alone and among others. ShopError where a name is not known.
    """
    known = views(found, shop, part, characteristic)
    name = view or known[0]
    if name not in known:
        raise ShopError(unknown(f"station of {part} {characteristic}", name, [one for one in known if one]))
    charted = _charted(shop, store, found, (part, characteristic, name))
    if charted is None:
        return None
    report, points = charted
    newest = set(report.track.builds)
    same = np.array_equal(report.chart.values, report.track.deviations)
    kept = {point.build: point for point in points if point.build in newest}
    return Look(report, kept, not same)


def _charted(
    shop: Shop, store: Store, found: DriftReport, key: tuple[str, str, str]
) -> tuple[SeriesReport, list[Point]] | None:
    part, characteristic, name = key
    newest = {build for track in found.tracks if track.part == part for build in track.builds}
    points = [] if is_computed(name) else recent(shop, store, part, characteristic, name or None, newest)
    for one in found.series:
        if one.track.key == key and one.track.made:
            return one, points
    track = next((track for track in found.tracks if track.key == key), None)
    if track is None and points:
        track = of_points(part, characteristic, name, points, repeating(shop, store, part))
    if track is None or not track.made:
        return None
    return series_report(track, found.fixes, lent(found.tracks)), points


def causes_of(found: DriftReport, track: Track) -> list[Cause]:
    """The likely causes that moved a series; of a single station, those that moved its size."""
    size = f"{track.part} {track.characteristic} {MEAN}"
    names = {track.name, size} if track.absolute else {track.name}
    return [cause for cause in found.causes if names & set(cause.series)]


def aimed(track: Track) -> bool:
    """Whether a series is of something planned, with a target, and not of a difference merely looked at."""
    return track.station != MOVED and LESS not in (track.station or "")


def whole(shop: Shop, store: Store, part: str, characteristic: str, view: str) -> Track:
    """Every build of a view there has ever been, as deviations; ShopError where the view is not known."""
    for left, right in PAIRS:
        if view == f"{left}{LESS}{right}" and left in part:
            both = [*tracks(shop, store, part), *tracks(shop, store, part.replace(left, right))]
            of_pair = [track for track in pairs(both) if track.key == (part, characteristic, view)]
            if of_pair:
                return of_pair[0]
    found = tracks(shop, store, part, characteristic, view or None)
    return next(track for track in found if track.key == (part, characteristic, view))
