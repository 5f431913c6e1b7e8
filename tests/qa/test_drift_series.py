"""Builds in order: one characteristic at one station, as the series a chart is made of."""

import pytest

from qa.drift.builds import series
from qa.errors import ShopError


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
