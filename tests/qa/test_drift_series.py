"""Builds in order: one characteristic at one station, as the series a chart is made of."""

import pytest

from qa.drift.builds import series
from qa.drift.tracks import tracks
from qa.errors import ShopError
from qa.record import BenchEvent


@pytest.fixture
def built(shop, store, plan, reading):
    """Three builds, the names not in the order they were begun, the second measured twice."""
    for start, build, value in ((1000, "C", 18.05), (2000, "A", 18.10), (3000, "B", 18.12)):
        for n in range(4):
            store.append(reading(start + n, value + (0.02 if n > 1 else 0), build=build, machine=build), plan)
    store.append(reading(2500, 18.0, build="A", instrument="CAL-2", machine="plane", rh_percent=41.0), plan)
    return shop, store


def test_a_series_runs_in_the_order_the_builds_were_begun(built):
    """One point for each, the latest reading that stands, as deviation from its target."""
    points = series(*built, "tail-block", "thickness", "bottom-left")
    assert [point.build for point in points] == ["C", "A", "B"]
    assert [point.judged.value for point in points] == [18.05, 18.0, 18.12]
    assert [round(point.judged.deviation, 9) for point in points] == [0.05, 0.0, 0.12]
    assert [(p.instrument, p.machine, p.rh_percent) for p in points] == [
        ("CAL-1", "C", None), ("CAL-2", "plane", 41.0), ("CAL-1", "B", None),
    ]  # fmt: skip


def test_a_derived_characteristic_has_no_station(built):
    """One point for each build that has all the readings it needs."""
    points = series(*built, "tail-block", "taper")
    assert [round(point.judged.value, 9) for point in points] == [0.02, 0.07, 0.02]


def test_builds_not_measured_there_are_left_out(shop, sqlite_store, plan, reading):
    """A build with three of four stations has a thickness but no taper yet."""
    for n in range(3):
        sqlite_store.append(reading(n, 18.0), plan)
    assert len(series(shop, sqlite_store, "tail-block", "thickness", "top-left")) == 1
    assert series(shop, sqlite_store, "tail-block", "thickness", "top-right") == []
    assert series(shop, sqlite_store, "tail-block", "taper") == []
    assert series(shop, sqlite_store, "side", "moisture") == []


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        (("tail-blok", "thickness", "top-left"), "known: tail-block"),
        (("tail-block", "thicknes", "top-left"), "known: thickness"),
        (("tail-block", "thickness", "top"), "known: bottom-left"),
        (("tail-block", "thickness", None), "judged station by station: say which"),
    ],
)
def test_names_that_are_not_known(shop, sqlite_store, asked, why):
    """The near ones are told, or the station that is missing."""
    with pytest.raises(ShopError, match=why):
        series(shop, sqlite_store, *asked)


def test_a_series_is_as_uncertain_as_its_caliper_was_found_on_that_wood(shop, sqlite_store, plan, reading):
    """By its study on spanish cedar, of the mean of four and of one; what it cannot measure is left out."""
    for n in range(4):
        sqlite_store.append(reading(n), plan)
    sqlite_store.append(reading(9, 8.0, part="side", characteristic="moisture", station="", unit="%"), plan)
    for wood, sd in (("spanish cedar", 0.04), ("teak", 0.09)):
        body = {"repeatability": sd, "dof": 9, "species": wood}
        event = BenchEvent("2025-03-02T09:00:00Z", "study", instrument="CAL-1", body=body)
        sqlite_store.add_event(event)
    own = (0.04**2 + 0.01**2 / 12) ** 0.5
    found = {track.name: track for track in tracks(shop, sqlite_store)}
    (alone,) = tracks(shop, sqlite_store, "tail-block", "thickness", "top-left")
    assert found["tail-block thickness mean of stations"].u == pytest.approx(own / 2)
    assert alone.u == pytest.approx(own)
    assert not any("moisture" in name for name in found)
