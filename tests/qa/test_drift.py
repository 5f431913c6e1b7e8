"""From stored readings to series: visits, means, differences, fixes, and readings no chart should take."""

import datetime as dt
import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qa.drift.document import document
from qa.drift.fixes import Fix, baselines, fixes, state_fix
from qa.drift.frame import COLUMNS, frame
from qa.drift.hold import hold, hold_all
from qa.drift.report import report, series_report
from qa.drift.season import batches
from qa.drift.track import MEAN, MOVED, Made, Track
from qa.drift.tracks import tracks
from qa.drift.words import sayer, series_sentences
from qa.errors import CannotSay, ShopError
from qa.record import BenchReading, utc
from qa.shop import load_shop
from qa.store.store import open_store

PLAN = """
model = "{model}"
unit = "mm"
[reference]
glue_rh_percent = [40, 50]
[parts.block]
species = "black cherry"
grain = {{ thickness = "radial", width = "tangential" }}
[parts.block.characteristics.thickness]
kind = "thickness"
target = {target}
tolerance = 0.25
stations = {{ top-left = [0, 74], top-right = [70, 74], bottom-left = [0, 0], bottom-right = [70, 0] }}
[parts.block.characteristics.taper]
kind = "taper"
of = "thickness"
limit = 0.15
[parts.block.characteristics.width]
kind = "width"
target = 78
tolerance = 0.5
stations = {{ middle = [35, 37] }}
"""
CORNERS = ("top-left", "top-right", "bottom-left", "bottom-right")
BEGUN = dt.datetime(2025, 1, 6, 9, tzinfo=dt.UTC)


@pytest.fixture
def shop(tmp_path):
    """Two models that differ in the block's thickness."""
    (tmp_path / "plans").mkdir()
    (tmp_path / "shop.toml").write_text(
        'name = "A shop of the tests"\ntimezone = "UTC"\n[instruments.CAL-1]\n'
    )
    for model, target in (("small", 20), ("large", 24)):
        (tmp_path / "plans" / f"{model}.toml").write_text(PLAN.format(model=model, target=target))
    return load_shop(tmp_path)


@pytest.fixture
def store(shop):
    """Its store, empty."""
    with open_store(shop.store_url) as opened:
        yield opened


def put(shop, store, build, characteristic, station, value, hours=0.0, model="small", **more):
    """Store one reading, `hours` after the first build was begun."""
    row = BenchReading(
        utc(BEGUN + dt.timedelta(hours=hours)), build, "block", characteristic, station,
        round(value * 1_000_000), instrument="CAL-1", machine="plane", **more,
    )  # fmt: skip
    store.append(row, shop.plan(model))


def block(shop, store, number, values, model="small", hours=None):
    """Store a block's four corners as build number so-and-so, one build a week."""
    at = 168 * number if hours is None else hours
    for place, (station, value) in enumerate(zip(CORNERS, values, strict=True)):
        put(shop, store, f"B-{number:02d}", "thickness", station, value, at + place / 60, model)


def named(found, station, characteristic="thickness"):
    """The one series of that name."""
    (track,) = [t for t in found if (t.characteristic, t.station) == (characteristic, station)]
    return track


def test_one_build_gives_each_series_one_point(shop, store):
    """Mean of stations, planned taper, left less right; the taper is not charted a second time."""
    block(shop, store, 1, (20.10, 20.12, 20.02, 20.00))
    found = tracks(shop, store)
    assert [track.station for track in found] == [MEAN, None, "left less right"]
    assert named(found, MEAN).deviations.tolist() == pytest.approx([0.06])
    assert named(found, None, "taper").deviations.tolist() == pytest.approx([0.10])
    assert named(found, "left less right").deviations.tolist() == pytest.approx([0.0])
    assert [track.absolute for track in found] == [True, False, False]
    assert [track.primary for track in found] == [True, True, False]


def test_models_are_charted_together_as_deviations(shop, store):
    """20 and 24 mm on one chart: 0.1 over is 0.1 over, and the chart says how they were brought together."""
    for number in range(1, 9):
        target, model = ((20, "small"), (24, "large"))[number % 2]
        block(shop, store, number, [target + 0.1 + number / 1000] * 4, model)
    track = named(tracks(shop, store), MEAN)
    assert track.deviations == pytest.approx([0.1 + n / 1000 for n in range(1, 9)])
    assert "spreads do not differ" in series_report(track).scaled.says


def test_a_later_visit_is_a_series_of_what_moved(shop, store):
    """Read again three weeks on: the first size stays the size as made, the difference is what moved."""
    put(shop, store, "B-01", "width", "middle", 78.02, 0, rh_percent=57.0)
    put(shop, store, "B-01", "width", "middle", 78.00, 2, rh_percent=57.0)
    put(shop, store, "B-01", "width", "middle", 78.15, 500, rh_percent=61.0)
    found = tracks(shop, store)
    assert named(found, "middle", "width").deviations.tolist() == pytest.approx([0.0])
    moved = named(found, MOVED, "width")
    assert moved.deviations.tolist() == pytest.approx([0.15])
    assert moved.made[0].settled == pytest.approx(0.14, abs=0.02)
    (wet,) = batches(found, {"small": (40, 50)})
    assert (wet.builds, wet.was, wet.rh_percent, wet.shown) == (("B-01",), "wet", 57, True)


def test_a_reading_in_the_wrong_unit_is_left_out_and_told(shop, store):
    """25.4 times the target is not drift."""
    for number in range(1, 6):
        block(shop, store, number, (20 + number / 100,) * 4)
    block(shop, store, 6, (20 * 25.4,) * 4)
    track = named(tracks(shop, store), MEAN)
    assert track.builds == ("B-01", "B-02", "B-03", "B-04", "B-05")
    assert track.left_out == (
        "B-06 reads 508, 25.4 times its target of 20: left out; was it inches, or a slipped point?",
    )
    said = series_sentences(series_report(track), (), sayer("mm"))
    assert any("was it inches" in sentence for sentence in said)


def test_too_few_stations_are_no_mean(shop, store):
    """One corner of four says nothing of the part."""
    put(shop, store, "B-01", "thickness", "top-left", 20.1)
    assert all(track.station != MEAN or not track.made for track in tracks(shop, store))


def test_builds_of_one_day_keep_the_order_they_were_begun(shop, store):
    """Two builds with one date, the second begun an hour later."""
    block(shop, store, 2, (20.2,) * 4, hours=0)
    block(shop, store, 1, (20.1,) * 4, hours=1)
    assert named(tracks(shop, store), MEAN).builds == ("B-02", "B-01")


def test_the_newest_builds_alone_may_be_asked_for(shop, store):
    """The overview of many years takes in the newest."""
    for number in range(1, 6):
        block(shop, store, number, (20 + number / 100,) * 4)
    assert named(tracks(shop, store, newest=2), MEAN).builds == ("B-04", "B-05")
    assert len(named(tracks(shop, store, newest=9), MEAN).builds) == 5


def test_a_withdrawn_or_held_reading_does_not_count(shop, store):
    """What does not stand is not charted."""
    block(shop, store, 1, (20.0,) * 4)
    put(shop, store, "B-01", "thickness", "top-left", 21.0, 200, held=True)
    assert named(tracks(shop, store), MEAN).deviations.tolist() == pytest.approx([0.0])


@pytest.mark.parametrize(
    ("asked", "near"),
    [
        (("blok", None, None), "block"),
        (("block", "thicknes", None), "thickness"),
        (("block", "thickness", "top"), "top-left"),
        ((None, None, "top-left"), "--part"),
    ],
)
def test_what_is_not_known_is_refused_with_the_near_ones(shop, store, asked, near):
    """By name, never a guess."""
    block(shop, store, 1, (20.0,) * 4)
    with pytest.raises(ShopError, match=near):
        tracks(shop, store, *asked)


def test_one_station_is_the_series_of_its_latest_readings(shop, store):
    """The series behind the chart of a station."""
    block(shop, store, 1, (20.1, 20.0, 20.0, 20.0))
    (track,) = tracks(shop, store, "block", "thickness", "top-left")
    assert track.deviations.tolist() == pytest.approx([0.1])


def test_a_stated_fix_is_kept_drawn_and_begins_anew(shop, store):
    """For the machine's series a new baseline, for others nothing; with no words it is refused."""
    for number in range(1, 5):
        block(shop, store, number, [20 + number / 100] * 4)
    state_fix(store, " new iron ", BEGUN + dt.timedelta(hours=168 * 2.5), machine="plane")
    state_fix(store, "new fence", BEGUN + dt.timedelta(hours=168 * 3.5), machine="table saw")
    stated = fixes(store)
    track = named(tracks(shop, store), MEAN)
    assert [fix.text for fix in stated] == ["new iron", "new fence"]
    assert baselines(stated, track) == [2]
    drawn = frame(series_report(track, stated))
    assert drawn["fix"].tolist() == ["", "", "new iron", ""]
    assert drawn["new_baseline"].tolist() == [False, False, True, False]
    with pytest.raises(CannotSay, match="needs words"):
        state_fix(store, " ", BEGUN)


def test_a_caliper_put_right_is_drawn_but_begins_nothing_anew():
    """Readings change, parts do not; a machine named first in the words counts as named."""
    track = track_of([0.0] * 3)
    assert not Fix("2025", "wiped", instrument="CAL-1").concerns(track)
    assert Fix("2025", "Plane: iron ground").concerns(track)
    assert Fix("2025", "x", part="block", characteristic="thickness").concerns(track)
    assert not Fix("2025", "x", part="top").concerns(track)


def track_of(values, lower=-0.2, upper=0.2):
    """A track of those deviations."""
    made = [
        Made(
            f"B-{i}",
            value,
            0.01,
            lower,
            upper,
            "CAL-1",
            "",
            "plane",
            None,
            "small",
            f"2025-01-{i % 28 + 1:02d}",
        )
        for i, value in enumerate(values)
    ]
    return Track("block", "thickness", None, "mm", True, True, tuple(made))


def test_what_could_be_promised_needs_five_builds():
    """Below, the reason stands in words; from there, a capability with intervals and a tolerance."""
    few = series_report(track_of([0.01, -0.02, 0.03, 0.0]))
    assert few.capability is None
    assert any("needs at least 5" in why or "5 or more" in why for why in few.why)
    enough = series_report(track_of([0.01, -0.02, 0.03, 0.0, 0.01]))
    assert enough.capability.n == 5
    assert enough.promise.plus_minus > 0.05


def test_a_noisy_caliper_hides_the_shop():
    """Said in words where the readings' own scatter could be all."""
    said = series_sentences(
        series_report(track_of([0.01, 0.0, -0.01, 0.01, 0.0, -0.01, 0.0])), (), sayer("mm")
    )
    assert any(sentence.startswith("Your caliper hides it") for sentence in said)


def test_a_frame_holds_a_row_a_build():
    """Every column a figure draws, in order, with the tolerance beside."""
    drawn = frame(series_report(track_of(np.linspace(0, 0.1, 10).tolist())))
    assert tuple(drawn.columns) == COLUMNS
    assert len(drawn) == 10
    assert drawn["tolerance_upper"].tolist() == [0.2] * 10
    assert not drawn["center"].iloc[3:].isna().any()


@settings(deadline=None, max_examples=60)
@given(st.lists(st.sampled_from([0.0, 0.01, -0.01, 0.05, 6.35, 190.5]), max_size=24))
def test_no_series_breaks_words_or_numbers(values):
    """One build, ties, equal values, outliers: sentences, and JSON without NaN or infinity."""
    found = series_report(track_of(values))
    said = series_sentences(found, (), sayer("mm"))
    assert said
    assert all("nan" not in sentence.lower().split() and "inf" not in sentence.split() for sentence in said)
    assert len(frame(found)) == len(values)


@settings(deadline=None, max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_shop_of_any_few_builds_is_reported_in_valid_json(shop, store, data):
    """From the store to the document, whatever was read so far."""
    number = len(store.builds()) + 1
    block(
        shop,
        store,
        number,
        data.draw(st.lists(st.sampled_from([20.0, 20.01, 20.3, 508.0]), min_size=4, max_size=4)),
    )
    told = document(report(shop, store), shop)
    json.dumps(told, allow_nan=False)
    assert [one["n"] for one in told["series"] if one["station"] == MEAN] or number == 1


def test_holding_a_tolerance_takes_five_builds(shop, store):
    """Below, too few builds; a tolerance of nothing is refused."""
    block(shop, store, 1, (20.0,) * 4)
    answers = {one.series: one.answer for one in hold_all(shop, store, 0.1)}
    assert answers == {"block thickness": "too few builds", "block width": "too few builds"}
    with pytest.raises(CannotSay):
        hold("block thickness", [], 0.0)
