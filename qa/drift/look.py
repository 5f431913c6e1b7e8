"""One series as a screen looks at it: which views there are of a size, and one of them charted."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from qa.calipers.in_shop import instruments_of
from qa.characteristics import kinds
from qa.conformity import Verdict
from qa.drift.chart import Spread
from qa.drift.differences import PAIRS, pairs
from qa.drift.report import DriftReport, SeriesReport, series_report
from qa.drift.spread import lent_spread
from qa.drift.track import MEAN, MOVED, Track, of_points
from qa.drift.tracks import repeating, tracks
from qa.errors import ShopError
from qa.judge import judge_characteristic, latest_by_station
from qa.plans.plan import unknown
from qa.record import BenchReading, standing

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
    return [track for track in every if (track.part, track.characteristic) == (part, characteristic)]


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


Key = tuple[str, str, str]


def _charted(
    shop: Shop, store: Store, found: DriftReport, key: Key
) -> tuple[SeriesReport, list[Point]] | None:
    part, characteristic, name = key
    judged = name not in (MEAN, MOVED) and " less " not in name
    newest = {build for track in found.tracks if track.part == part for build in track.builds}
    points = recent(shop, store, part, characteristic, name or None, newest) if judged else []
    for one in found.series:
        if _key(one.track) == key and one.track.made:
            return one, points
    track = next((track for track in found.tracks if _key(track) == key), None)
    if track is None and points:
        track = of_points(part, characteristic, name, points, repeating(shop, store, part))
    if track is None or not track.made:
        return None
    return series_report(track, found.fixes, lent(found)), points


def _key(track: Track) -> Key:
    return track.part, track.characteristic, track.station or ""


def causes_of(found: DriftReport, track: Track) -> list[Cause]:
    """The likely causes that moved a series; of a single station, those that moved its size."""
    size = f"{track.part} {track.characteristic} {MEAN}"
    names = {track.name, size} if track.absolute else {track.name}
    return [cause for cause in found.causes if names & set(cause.series)]


def aimed(track: Track) -> bool:
    """Whether a series is of something planned, with a target, and not of a difference merely looked at."""
    return track.station != MOVED and " less " not in (track.station or "")


def lent(found: DriftReport) -> Spread | None:
    """The spread the shop's series show together, to steady that of one with few builds."""
    return lent_spread([track.deviations.tolist() for track in found.tracks if track.unit == "mm"])


def recent(
    shop: Shop, store: Store, part: str, characteristic: str, station: str | None, builds: Collection[str]
) -> list[Point]:
    """Those builds of a series judged, oldest first, at a cost that does not grow with the years."""
    from qa.drift.builds import Point

    instrument_of, points = instruments_of(shop, store), []
    taken = _readings(store, part, builds)
    for build in store.builds(taken).values():
        of_build = shop.plan(build.model, build.begun).parts.get(part)
        planned = of_build.characteristics.get(characteristic) if of_build else None
        if of_build is None or planned is None:
            continue
        alone = bool(station) and kinds()[planned.kind].each_station and station not in planned.overall
        rows = [
            row
            for row in taken[build.name]
            if row.characteristic == (planned.of or planned.name) and (not alone or row.station == station)
        ]
        latest = latest_by_station(standing(rows))
        if not latest:
            continue
        last = max(latest.values(), key=lambda row: (row.taken_at, row.sequence))
        points += [
            Point(build.name, item, last.instrument, last.bench, last.machine, last.rh_percent)
            for item in judge_characteristic(of_build, planned, latest, instrument_of)
            if item.station == station and item.value is not None
        ]
    return points


def _readings(store: Store, part: str, builds: Collection[str]) -> dict[str, list[BenchReading]]:
    """The readings of a part of those builds, by build: one query for all of them."""
    import sqlalchemy as sa

    from qa.store.schema import readings as table
    from qa.store.store import COLUMNS

    query = sa.select(*(table.c[name] for name in COLUMNS), table.c.sequence)
    # The plus keeps SQLite from reading the part's every build by its index.
    query = query.where(table.c.build.in_(list(builds)), table.c.part.concat("") == part)
    found: dict[str, list[BenchReading]] = {}
    with store.reading() as connection:
        for row in connection.execute(query.order_by(table.c.sequence)):
            found.setdefault(row.build, []).append(BenchReading(*row))
    return found


def whole(shop: Shop, store: Store, part: str, characteristic: str, view: str) -> Track:
    """Every build of a view there has ever been, as deviations; ShopError where the view is not known."""
    for left, right in PAIRS:
        if view == f"{left} less {right}" and left in part:
            both = [*tracks(shop, store, part), *tracks(shop, store, part.replace(left, right))]
            of_pair = [track for track in pairs(both) if _key(track) == (part, characteristic, view)]
            if of_pair:
                return of_pair[0]
    found = tracks(shop, store, part, characteristic, view or None)
    return next(track for track in found if _key(track) == (part, characteristic, view))
