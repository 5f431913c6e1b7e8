"""A reading of what the plan asked for by the same names before is no reading of what it asks now."""

from dataclasses import replace

import pytest

from qa.bench.capture import Bench
from qa.checking import check
from qa.chronicle import ASKED_OTHERWISE, COUNTS, standings_of
from qa.drift.builds import recent, series
from qa.drift.tracks import tracks
from qa.gate.gluing import look
from qa.instruments import TYPED
from qa.paper.build_record import record_of
from qa.paper.html import record_page
from qa.plans.plan import read_plan
from qa.plans.revisions import Revisions
from qa.record import BenchEvent, standing
from qa.shop import load_shop

BEFORE = 'kind = "moisture"\ntarget = 8.0\ntolerance = 1.5'
NOW = 'kind = "gap"\nlimit = 9.0'


@pytest.fixture
def percent(store, plan, reading):
    """Three builds whose side was read in per cent."""
    for number in range(3):
        fields = {"part": "side", "characteristic": "moisture", "station": "", "unit": "%"}
        store.append(reading(number, 8.0 + number / 10, build=f"PG-0{number}", **fields), plan)
    return store


@pytest.fixture
def changed(folder, plan_text):
    """The shop, its plan changed in place: by the same name a gap in millimetres is asked for."""
    assert BEFORE in plan_text
    path = folder / "plans" / "parlour-guitar.toml"
    path.write_text(plan_text.replace(BEFORE, NOW), encoding="utf-8")
    return load_shop(folder)


def test_it_is_not_measured_and_why_is_told(changed, percent):
    """A check names the revision, in place of per cent judged as millimetres."""
    (build,) = check(changed, percent, "PG-01", "side")
    (item,) = [one for one in build.parts[0].characteristics if one.characteristic == "moisture"]
    assert (str(item.verdict), item.value) == ("not measured", None)
    then = percent.readings("PG-01")[0].plan
    assert item.why == f"was read by revision {then[:8]} of the plan, which asked for it otherwise"


def test_the_gate_says_that_alone_of_it(changed, percent):
    """It is to be read again: not also said to have been measured never."""
    found, _ = look(changed, percent, "PG-01", "side")
    (reason,) = [item for item in found.reasons if item.about == "moisture"]
    assert reason.next == "measure"
    assert reason.why.endswith("which asked for it otherwise: read it again.")


def test_drift_takes_none_of_it_in(changed, percent, reading):
    """Neither as a point of its series nor in the mean; that it was left out is told once it is a series."""
    assert series(changed, percent, "side", "moisture") == []
    assert recent(changed, percent, "side", "moisture", None, ["PG-01"]) == []
    assert tracks(changed, percent, "side") == []
    fields = {"part": "side", "characteristic": "moisture", "station": ""}
    plan = changed.plan("parlour-guitar")
    percent.append(reading(9, 8.02, build="PG-09", **fields), plan)
    (track,) = tracks(changed, percent, "side", "moisture")
    assert track.builds == ("PG-09",)
    assert [told.partition(" ")[0] for told in track.left_out] == ["PG-00", "PG-01", "PG-02"]
    assert "asked for it otherwise" in track.left_out[0]


def test_the_bench_asks_for_it_again(changed, percent, plan):
    """It is the next place, and what was read there counts no more."""
    now = changed.plan("parlour-guitar")
    size = {"part": "side", "characteristic": "thickness", "station": "waist"}
    row = replace(percent.readings("PG-01")[0], **size, unit="mm", millionths=1_900_000, sequence=0)
    percent.append(row, plan)
    bench = Bench(percent, now, now.part("side"), "PG-01", TYPED)
    assert bench.next_place().characteristic.name == "moisture"
    assert [one.characteristic for one in bench.holding()] == ["thickness"]


def test_what_it_corrected_does_not_count_again(changed, percent, reading, plan):
    """A correction stays one, whatever it was read as."""
    now = changed.plan("parlour-guitar")
    fields = {"part": "side", "characteristic": "moisture", "station": "", "build": "PG-07"}
    first = percent.append(reading(20, 8.0, **fields), now)
    percent.append(reading(21, 9.0, **fields, unit="%", corrects=first), plan)
    (build,) = check(changed, percent, "PG-07", "side")
    assert [str(item.verdict) for item in build.parts[0].characteristics] == ["not measured"] * 2


def test_what_was_taken_back_stays_so_whatever_plan_was_in_force(plan, plan_text, reading):
    """A row that withdraws one reads nothing itself, so no plan asked for it otherwise."""
    now = read_plan(plan_text.replace(BEFORE, NOW), "m.toml")
    fields = {"part": "side", "characteristic": "moisture", "station": ""}
    row = replace(reading(0, 0.02, **fields, plan=now.digest), sequence=1)
    back = replace(row, millionths=None, corrects=1, plan=plan.digest, sequence=2)
    assert standing(Revisions({plan.digest: plan}.get).asked_now([row, back], now)) == []


def test_a_reading_in_another_unit_is_told_without_the_plan_it_was_of(plan, plan_text, reading):
    """The text of its revision may be read no more; the unit it is kept in tells enough."""
    now = read_plan(plan_text.replace(BEFORE, NOW), "m.toml")
    row = reading(0, 8.0, part="side", characteristic="moisture", station="", unit="%", plan="gone")
    like = replace(row, unit="mm", sequence=1)
    for revisions in (Revisions(lambda digest: None), Revisions({}.get)):
        assert revisions.asked_now([row, like], now) == [like]
        assert revisions.asked_now([row, like], plan) == [row]


def test_each_revision_is_looked_up_once(changed, percent, monkeypatch):
    """However many builds and rows there are; and not at all where all are of the plan in force."""
    asked = []
    own = type(percent).plan_text
    monkeypatch.setattr(
        type(percent), "plan_text", lambda store, digest: asked.append(digest) or own(store, digest)
    )
    check(changed, percent)
    tracks(changed, percent)
    assert len(asked) == 2
    asked.clear()
    percent.add_event(BenchEvent("2025-03-01T10:00:00.000000Z", "note"))
    now = changed.plan("parlour-guitar")
    rows = [replace(row, plan=now.digest, unit="mm") for row in percent.readings()]
    assert Revisions.kept(percent.plan_text).asked_now(rows, now) is rows
    assert asked == []


def test_the_record_says_that_it_does_not_count(changed, percent, reading):
    """What was read since as it is asked for now does; the owner's record names no instrument but its own."""
    fields = {"part": "side", "characteristic": "moisture", "station": "", "build": "PG-01"}
    plan = changed.plan("parlour-guitar")
    percent.append(reading(9, 0.02, **fields, instrument="CAL-2"), plan)
    rows = percent.readings("PG-01")
    worth = standings_of(rows, [], plan, Revisions.kept(percent.plan_text))
    assert [worth[row.sequence] for row in rows] == [ASKED_OTHERWISE, COUNTS]
    record = record_of(changed, percent, "PG-01")
    assert (record.readings, record.corrected) == (1, 1)
    assert "1 reading counts; 1 more is kept that was corrected" in (page := record_page(record))
    assert "or not as the plan asks now." in page
    assert not any("CAL-1" in told for told in record.instruments)
