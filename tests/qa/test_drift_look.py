"""One series looked at: its views, its chart, its alarms in words, its fixes; and a fix stated once."""

import datetime as dt
import re
import shutil

import pytest

from qa.conformity import Verdict
from qa.demo import LOGS, sample_logs
from qa.drift.alarms import alarms, chart_sayer, drawn_fixes, patterns
from qa.drift.builds import recent, series
from qa.drift.fixes import fixes, state_fix
from qa.drift.look import aimed, causes_of, look, views, whole
from qa.drift.report import report
from qa.drift.stating import Concerns, kept_words, state_once
from qa.drift.track import MEAN, MOVED
from qa.errors import CannotSay, ShopError
from qa.logs.loading import load
from qa.shop import load_shop
from qa.store.store import open_store

NOW = dt.datetime(2026, 5, 4, 15, 30, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo's shop with its two years of readings, a fix of the saw, and its report."""
    folder, source = tmp_path_factory.mktemp("look"), sample_logs()
    shutil.copytree(source / "plans", folder / "plans")
    shutil.copyfile(source / "shop.toml", folder / "shop.toml")
    shop = load_shop(folder)
    with open_store(shop.store_url) as store:
        load([source / name for name in LOGS], shop, store)
        state_fix(store, "fence reset", dt.datetime(2025, 3, 4, 17, tzinfo=dt.UTC), machine="table saw")
        state_fix(store, "zero set again", dt.datetime(2025, 8, 5, 17, tzinfo=dt.UTC), instrument="CAL-2")
        yield shop, store, report(shop, store)


def test_the_views_of_a_size(demo):
    """Mean of stations first, then differences, then each station."""
    shop, _, found = demo

    assert views(found, shop, "tail-block", "thickness") == [
        MEAN, "left less right", "top-left", "top-right", "bottom-left", "bottom-right",
    ]  # fmt: skip
    assert views(found, shop, "tail-block", "width")[:3] == [MEAN, MOVED, "top less bottom"]
    assert views(found, shop, "tail-block", "taper") == [""]
    assert "left less right" in views(found, shop, "side-left", "thickness")


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        (("tale-block", "thickness", ""), "known:.*tail-block"),
        (("tail-block", "girth", ""), "known: width"),
        (("tail-block", "thickness", "middle"), "known:.*top-left"),
    ],
)
def test_names_that_are_not_known(demo, asked, why):
    """The near ones are told."""
    shop, store, found = demo
    with pytest.raises(ShopError, match=why):
        look(shop, store, found, *asked)


def test_a_series_alone_is_the_one_among_all(demo):
    """What the whole report says of a series is what is shown of it."""
    shop, store, found = demo
    seen = look(shop, store, found, "brace", "width")

    assert seen.report is next(one for one in found.series if one.track.name == f"brace width {MEAN}")
    assert seen.points == {}
    assert seen.verdict("OM-14") is None
    assert not seen.rescaled


def test_a_station_comes_with_its_verdicts(demo):
    """Every build judged as `series` judges it, and charted from the same values."""
    shop, store, found = demo
    seen = look(shop, store, found, "brace", "width", "middle")
    judged = series(shop, store, "brace", "width", "middle")

    assert list(seen.points.values()) == judged
    assert [one.deviation for one in seen.report.track.made] == pytest.approx(
        [point.judged.deviation for point in judged]
    )
    assert seen.verdict("OM-20") == Verdict.DOES_NOT_CONFORM


def test_every_view_of_a_characteristic_is_charted(demo):
    """None of them fails, each has all its builds, and a difference is not aimed at a target."""
    shop, store, found = demo
    sizes = (
        ("tail-block", "thickness"),
        ("tail-block", "width"),
        ("tail-block", "taper"),
        ("side-left", "thickness"),
    )
    for part, characteristic in sizes:
        for view in views(found, shop, part, characteristic):
            track = look(shop, store, found, part, characteristic, view).report.track
            assert (track.part, track.characteristic, track.station or "") == (part, characteristic, view)
            assert len(track.made) >= 35
            assert aimed(track) == (" less " not in view and view != MOVED)


def test_a_place_not_read_yet_is_none(shop, sqlite_store, plan, reading):
    """Three corners have no taper yet; the fourth corner has no reading."""
    for n in range(3):
        sqlite_store.append(reading(n, 18.0), plan)
    found = report(shop, sqlite_store)

    assert look(shop, sqlite_store, found, "tail-block", "taper") is None
    assert look(shop, sqlite_store, found, "tail-block", "thickness", "top-right") is None
    assert len(look(shop, sqlite_store, found, "tail-block", "thickness", "top-left").points) == 1


@pytest.mark.parametrize("place", [("thickness", "top-left"), ("taper", None), ("radius-top", None)])
def test_the_newest_builds_are_judged_as_all_of_them_are(demo, place):
    """Those few builds are the end of the whole series, reading for reading."""
    shop, store, _ = demo

    names = [f"OM-{number}" for number in range(30, 37)]

    assert recent(shop, store, "tail-block", *place, names) == series(shop, store, "tail-block", *place)[-7:]


@pytest.mark.parametrize("view", [MEAN, "top-left", "left less right"])
def test_the_whole_series_ends_in_what_is_charted(demo, view):
    """The same builds and deviations, whichever way they were asked for."""
    shop, store, found = demo
    part = "tail-block"
    track = look(shop, store, found, part, "thickness", view).report.track
    every = whole(shop, store, part, "thickness", view)

    assert every.builds == track.builds
    assert every.deviations == pytest.approx(track.deviations)


def test_the_whole_of_a_pair_is_of_both_parts(demo):
    """Left less right of the sides, which no part has alone."""
    shop, store, found = demo
    track = look(shop, store, found, "side-left", "thickness", "left less right").report.track

    every = whole(shop, store, "side-left", "thickness", "left less right")
    assert every.deviations == pytest.approx(track.deviations)


def test_alarms_are_runs_of_builds_in_words(demo):
    """The saw: one run from OM-14 to OM-22, by its value and by the average, with what was to be expected."""
    shop, store, found = demo
    one = look(shop, store, found, "brace", "width").report
    told = alarms(one, chart_sayer(one, "mm"))

    assert [(alarm.builds, alarm.first, alarm.last) for alarm in told] == [("OM-14 to OM-22", 13, 21)]
    numbers = [float(text) for text in re.findall(r"([+-]\d\.\d{3}) mm", told[0].says)]
    chart = one.chart
    assert numbers == pytest.approx(
        [chart.values[13], chart.lower[13], chart.upper[13],
         chart.smoothed[13], chart.smoothed_lower[13], chart.smoothed_upper[13]],
        abs=0.0006,
    )  # fmt: skip
    covered = {i for alarm in told for i in range(alarm.first, alarm.last + 1)}
    assert covered == {signal.index for signal in chart.signals}


def test_a_quiet_series_calls_nothing_out(demo):
    """No alarm, no sentence."""
    shop, store, found = demo
    one = look(shop, store, found, "tail-block", "thickness").report

    assert alarms(one, chart_sayer(one, "mm")) == []


def test_patterns_are_told_once_a_run(demo):
    """As many builds as the chart marks, in fewer lines."""
    shop, store, found = demo
    one = look(shop, store, found, "brace", "width").report
    told = patterns(one)

    assert sum(run.last - run.first + 1 for run in told) == len(one.chart.patterns)
    assert len(told) < len(one.chart.patterns)
    assert [run.first for run in told] == sorted(run.first for run in told)


def test_amounts_are_said_in_the_shop_s_unit(demo):
    """A thousandth of a millimetre, a tenth of a thou, and other units as they are."""
    shop, store, found = demo
    one = look(shop, store, found, "brace", "width").report

    assert chart_sayer(one, "mm")(0.0254) == "+0.025 mm"
    assert chart_sayer(one, "in")(-0.0254) == "-0.0010 in"


def test_fixes_are_drawn_with_what_they_did(demo):
    """The saw's begins its chart anew; the caliper's is drawn on what that caliper read, and no more."""
    shop, store, found = demo
    zone = shop.zone()
    saw = drawn_fixes(look(shop, store, found, "brace", "width").report, zone)
    taper = drawn_fixes(look(shop, store, found, "tail-block", "taper").report, zone)

    assert [(fix.text, fix.anew) for fix in saw] == [("fence reset", True), ("zero set again", False)]
    assert saw[0].effect == "the chart begins anew with OM-23"
    assert saw[0].day == "2025-03-04"
    assert taper == []


def test_a_station_has_the_causes_of_its_size(demo):
    """The saw moved the mean of the brace's stations, so it moved each; it moved no difference."""
    shop, store, found = demo

    def named(view):
        track = look(shop, store, found, "brace", "width", view).report.track
        return [cause.name for cause in causes_of(found, track)]

    assert "table saw" in named(MEAN)
    assert named("middle") == named(MEAN)
    assert named("upper end less lower end") == []


@pytest.fixture
def small(shop, sqlite_store):
    """A shop and its empty store."""
    return shop, sqlite_store


def test_a_fix_is_kept_once_however_often_it_is_sent(small):
    """The same words of the same day on the same machine are the same fix, spaces apart."""
    shop, store = small
    of = Concerns(machine="table saw")
    first = state_once(shop, store, "new fence", "2026-05-04", of, NOW)
    second = state_once(shop, store, " new  fence ", "", of, NOW + dt.timedelta(minutes=3))

    assert (first.anew, second.anew) == (True, False)
    assert [(fix.text, fix.machine, fix.at[:16]) for fix in fixes(store)] == [
        ("new fence", "table saw", "2026-05-04T15:30")
    ]
    assert kept_words(first).startswith("Kept: new fence, 2026-05-04; charts of what comes from table saw")
    assert kept_words(second).startswith("It was kept already: new fence")


@pytest.mark.parametrize(
    "other",
    [
        {"text": "new blade"},
        {"day": "2026-05-03"},
        {"of": Concerns(machine="band saw")},
        {"of": Concerns(part="side", characteristic="thickness")},
        {"of": Concerns()},
    ],
)
def test_another_fix_is_kept_beside_it(small, other):
    """Other words, another day, or done to something else."""
    asked = {"text": "new fence", "day": "2026-05-04", "of": Concerns(machine="table saw"), "now": NOW}
    state_once(*small, **asked)

    assert state_once(*small, **(asked | other)).anew
    assert len(fixes(small[1])) == 2


def test_a_fix_of_an_earlier_day_counts_from_its_morning(small):
    """Builds read on that day are after it."""
    state_once(*small, "new fence", "2026-05-01", Concerns(), NOW)

    assert fixes(small[1])[0].at.startswith("2026-05-01T00:00")


@pytest.mark.parametrize(
    ("text", "day", "why"),
    [
        ("  ", "2026-05-04", "what was put right"),
        ("new fence", "4 May", "'4 May' is not a date; write it like 2026-05-04"),
        ("new fence", "2026-05-05", "has not come yet"),
    ],
)
def test_what_is_no_fix_is_not_kept(small, text, day, why):
    """It says why, and stores nothing."""
    with pytest.raises(CannotSay, match=why):
        state_once(*small, text, day, Concerns(), NOW)

    assert fixes(small[1]) == []
