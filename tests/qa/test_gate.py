"""The gate before glue-up: each reason by itself, what comes next, overrides, and how its sentences read."""

import datetime as dt
import re
from dataclasses import replace

import pytest

from qa.bench.watch import ACCEPTED
from qa.calipers.bias import bias
from qa.calipers.standing import State
from qa.gate.gate import Climate, Evidence, Note, gate
from qa.instruments import Instrument, Stretch
from qa.plans.plan import read_plan
from qa.plans.revisions import Revisions
from qa.record import BenchEvent, BenchReading, utc
from qa.wood import load_species

NOW = dt.datetime(2026, 3, 2, 12, tzinfo=dt.UTC)
PLAN = """
model = "m"
[reference]
rh_percent = 45
temp_c = 21
glue_rh_percent = [40, 50]
reading_life_hours = 48
[parts.block]
species = "black cherry"
grain = { thickness = "radial", width = "tangential" }
[parts.block.characteristics.thickness]
kind = "thickness"
target = 18.0
tolerance = 0.15
stations = { bottom-left = [0, 0], bottom-right = [60, 0], top-left = [0, 90], top-right = [60, 90] }
[parts.block.characteristics.taper]
kind = "taper"
of = "thickness"
limit = 0.10
[parts.block.characteristics.squareness]
kind = "squareness"
blade_length = 75
over = 75
limit = 0.15
[parts.block.characteristics.width]
kind = "width"
target = 76.0
tolerance = 0.20
stations = { top = [0, 90] }
[parts.block.mates.seat]
size = "width"
mate = "mould.slot"
gap_lower = 0.05
gap_upper = 0.45
[parts.mould.characteristics.slot]
kind = "width"
target = 76.25
tolerance = 0.1
stations = { all = [0, 0] }
"""
GOOD = {
    ("block", "thickness", "bottom-left"): 18.00,
    ("block", "thickness", "bottom-right"): 18.01,
    ("block", "thickness", "top-left"): 18.02,
    ("block", "thickness", "top-right"): 18.01,
    ("block", "squareness", ""): 0.02,
    ("block", "width", "top"): 76.00,
    ("mould", "slot", "all"): 76.25,
}
CAL = Instrument("CAL-1")


def reading(place, value, ago=1.0, sequence=0, rh=45.0):
    part, characteristic, station = place
    return BenchReading(
        utc(NOW - dt.timedelta(hours=ago)), "B-1", part, characteristic, station, round(value * 1e6),
        instrument="CAL-1", rh_percent=rh, sequence=sequence,
    )  # fmt: skip


def bench(changes=None, *, plan=PLAN, ago=1.0, rh=45.0, more=(), **fields):
    """A bench over the good part with some readings changed; None takes one out."""
    values = {**GOOD, **(changes or {})}
    rows = [reading(place, value, ago, n, rh) for n, (place, value) in enumerate(values.items(), 1) if value]
    given = {
        "events": (),
        "states": {"CAL-1": State("CAL-1", "good")},
        "climate": Climate(45.0, 21.0),
        "species": load_species({}),
    } | fields
    return Evidence(
        "B-1", read_plan(plan, "m.toml"), [*rows, *more], given["events"], lambda name: CAL,
        given["states"], NOW, given["climate"], given["species"], fields.get("unit", "mm"),
        fields.get("struck", frozenset()),
    )  # fmt: skip


def looked(at):
    return gate(at, at.plan.part("block"))


def only(found):
    """The one reason there is."""
    assert len(found.reasons) == 1, [item.why for item in found.reasons]
    return found.reasons[0]


def event(kind, ago=0.5, sequence=1, **fields):
    return BenchEvent(utc(NOW - dt.timedelta(hours=ago)), kind, "B-1", "block", sequence=sequence, **fields)


def test_a_well_measured_part_is_open():
    """Nothing against it: glue, no reason, no note."""
    found = looked(bench())
    assert (found.open, found.next, found.reasons, found.notes) == (True, "glue", (), ())
    assert not found.overridden


def test_not_measured_is_never_fit():
    """A missing reading closes the gate for its station and for what is computed from it."""
    found = looked(bench({("block", "thickness", "top-left"): None}))
    assert not found.open
    assert found.next == "measure"
    assert [item.about for item in found.reasons] == ["thickness/top-left", "taper"]
    assert found.reasons[0].why == "thickness top-left has not been measured; not measured is never fit."


def test_a_part_that_nothing_is_read_of_is_not_fit():
    """No reading tells that it may be glued."""
    found = bench(plan=PLAN + '[parts.cap]\ntitle = "Cap"\n[parts.cap.characteristics]\n')
    reason = only(gate(found, found.plan.part("cap")))
    assert (reason.about, reason.next) == ("part", "measure")
    assert reason.why.startswith("The plan asks no reading of cap, so nothing tells that it fits")


HELD = {"held": True, "suspect": "is 10 times its target: a decimal slip?"}


def test_a_doubted_reading_waits_for_its_answer():
    """It is the newest word on its place, so what counts there may be true no more."""
    place = ("block", "thickness", "top-left")
    held = replace(reading(place, 180.2, 0.5, 90), **HELD)
    reason = only(looked(bench(more=[held])))
    assert (reason.about, reason.next) == ("thickness/top-left", "measure")
    assert reason.why == (
        "thickness top-left: 180.20 mm is 10 times its target: a decimal slip? Kept but not counted: read "
        "the place again, or accept it."
    )
    assert looked(bench(more=[held, reading(place, 18.02, 0.4, 91)])).open
    assert looked(bench(more=[replace(held, sequence=0, taken_at=utc(NOW - dt.timedelta(hours=2)))])).open


def test_a_doubted_reading_whose_acceptance_was_taken_back_waits_again():
    """What was undone answers nothing; an older reading of the place does not open the gate meanwhile."""
    held = replace(reading(("block", "thickness", "top-left"), 180.2, 0.5, 90), **HELD)
    accepted = replace(held, held=False, corrects=90, why=ACCEPTED, sequence=91)
    undone = replace(accepted, millionths=None, corrects=91, why="undone", sequence=92)
    reason = only(looked(bench(more=[held, accepted, undone])))
    assert (reason.about, reason.next) == ("thickness/top-left", "measure")
    assert looked(bench(more=[held, replace(undone, corrects=90)])).open


def test_a_doubted_reading_of_a_size_that_is_met_waits_too():
    """Told with the part it is of."""
    held = replace(reading(("mould", "slot", "all"), 762.5, 0.5, 90), **HELD)
    reason = only(looked(bench(more=[held])))
    assert (reason.about, reason.why[:23]) == ("mould/slot/all", "mould slot all: 762.50 ")


@pytest.mark.parametrize(
    ("old", "new", "is_open"),
    [
        ("blade_length = 75", "blade_length = 300", False),
        ("top-left = [0, 90]", "top-left = [0, 45]", False),
        ('[parts.block.characteristics.width]\nkind = "width"',
         '[parts.block.characteristics.width]\nkind = "length"', False),
        ("over = 75", "over = 60", True),
        ("tolerance = 0.15", "tolerance = 0.16", True),
        ("target = 76.25", "target = 76.3", True),
    ],
)  # fmt: skip
def test_a_reading_that_the_plan_asked_for_otherwise_is_to_be_read_again(old, new, is_open):
    """What a gap over another blade, or a size elsewhere, was worth then tells nothing now."""
    assert old in PLAN
    now = bench(plan=PLAN.replace(old, new))
    then = read_plan(PLAN, "m.toml")
    rows = [replace(row, plan=then.digest) for row in now.readings]
    found = looked(replace(now, readings=rows, revisions=Revisions({then.digest: then}.get)))
    assert found.open is is_open
    if not is_open:
        reason = found.reasons[0]
        assert reason.next == "measure"
        assert (
            f"was read by revision {then.digest[:8]} of the plan, which asked for it otherwise" in reason.why
        )


def test_oversize_is_safe_and_says_how_many_shavings_to_go():
    """Too thick is work to do, in shavings, and never a stop."""
    found = looked(bench({("block", "thickness", "top-left"): 18.24}))
    about = {item.about: item for item in found.reasons}
    assert found.next == "work"
    assert about["thickness/top-left"].why == (
        "thickness top-left is 18.24 mm, over the upper limit by 0.09 mm. 3 to 6 shavings to go there."
    )
    assert set(about) == {"thickness/top-left", "taper"}
    assert about["taper"].why.endswith("shavings to go at top-left.") or about["taper"].next == "measure"


def test_undersize_is_a_stop():
    """Wood that is gone decides before every other reason."""
    found = looked(bench({("block", "thickness", "top-left"): 17.70, ("block", "squareness", ""): None}))
    assert found.next == "stop"
    first = found.reasons[0]
    assert (first.about, first.next) == ("thickness/top-left", "stop")
    assert first.why == (
        "thickness top-left is 17.70 mm, under the lower limit by 0.15 mm. Planing cannot save it."
    )


def test_one_station_under_loses_the_part_for_the_others():
    """A station over says where the part is lost, not that it can be planed."""
    changes = {("block", "thickness", "top-left"): 18.30, ("block", "thickness", "top-right"): 17.70}
    found = {item.about: item for item in looked(bench(changes)).reasons}
    assert found["thickness/top-left"].next == "stop"
    assert found["thickness/top-left"].why.endswith(
        "Planing cannot save the part: thickness top-right is undersize by 0.15 mm."
    )


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (
            18.13,
            "too near for one reading to tell: measure again, or take 1 to 2 shavings off to be sure of it.",
        ),
        (17.86, "too near for one reading to tell: measure again."),
    ],
)
def test_too_near_a_limit_to_tell(value, words):
    """Undecided asks for another reading; near the upper limit a shaving would settle it."""
    found = looked(bench({("block", "thickness", place): value for place in
                          ("top-left", "top-right", "bottom-left", "bottom-right")}))  # fmt: skip
    assert found.next == "measure"
    assert all(item.why.endswith(words) for item in found.reasons)
    assert {item.next for item in found.reasons} == {"measure"}


def test_a_shape_out_of_limits_is_work():
    """Squareness has no size to plane by: work on it, read again."""
    reason = only(looked(bench({("block", "squareness", ""): 0.30})))
    assert (reason.about, reason.next) == ("squareness", "work")
    assert reason.why == (
        "squareness is 0.30 mm, over the upper limit by 0.15 mm. Work on it and read it again."
    )


def test_readings_from_before_the_last_planing_do_not_count():
    """After a pass of planing all is to be read again, though it conformed before."""
    found = looked(bench(events=[event("planed")]))
    assert found.next == "measure"
    assert "taper" in {item.about for item in found.reasons}
    assert found.reasons[0].why == (
        "thickness bottom-left was last read before the part was planed: read it again."
    )
    again = [reading(place, value, 0.2, 100 + n) for n, (place, value) in enumerate(GOOD.items())]
    assert looked(bench(events=[event("planed")], more=again)).open


def test_a_planing_taken_back_voids_nothing():
    """A key pressed by mistake."""
    events = [event("planed", sequence=4), event("planed taken back", 0.4, 5, body={"of": 4})]
    assert looked(bench(events=events)).open


def test_moisture_outlives_planing():
    """What planing does not change need not be read again."""
    plan = PLAN + '[parts.block.characteristics.damp]\nkind = "moisture"\ntarget = 8.0\ntolerance = 4\n'
    wet = BenchReading(
        utc(NOW - dt.timedelta(hours=1)), "B-1", "block", "damp", "", 8_000_000, "%", sequence=50
    )
    again = [reading(place, value, 0.2, 100 + n) for n, (place, value) in enumerate(GOOD.items())]
    at = bench(plan=plan, events=[event("planed")], more=[wet, *again])
    assert looked(replace(at, instrument_of=lambda name: CAL if name else Instrument(""))).open


@pytest.mark.parametrize(
    ("ago", "words"),
    [
        (50, "7 readings are too old: thickness bottom-left was taken 50 hours ago at 45 % RH"),
        (24 * 9.1, "taken 9 days ago at 45 % RH, and a reading holds 48 hours."),
    ],
)
def test_readings_too_old(ago, words):
    """A fit of long ago is not a fit; the sentence says how old and how long a reading holds."""
    found = looked(bench(ago=ago))
    reason = only(found)
    assert (reason.about, found.next) == ("readings", "measure")
    assert words in reason.why


def test_a_reading_of_a_size_that_is_met_grows_old_too():
    """The fit rests on it as much as on the part's own."""
    slot = ("mould", "slot", "all")
    reason = only(looked(bench({slot: None}, more=[reading(slot, 76.25, 50, 90)])))
    assert reason.why == (
        "1 reading is too old: mould slot all was taken 50 hours ago at 45 % RH, and a reading holds "
        "48 hours."
    )


def test_a_reading_the_plan_asks_for_no_more_closes_nothing():
    """Nobody could read it again: its place is gone from the plan."""
    gone = [reading(("block", "girth", ""), 70.0, 500, 90), reading(("block", "width", "old"), 76.0, 500, 91)]
    assert looked(bench(more=gone)).open


def test_one_reading_too_old_is_told_in_the_singular():
    """Grammar."""
    place = ("block", "squareness", "")
    old = reading(place, 0.02, 49, 90)
    reason = only(looked(bench({place: None}, more=[old])))
    assert reason.why == (
        "1 reading is too old: squareness was taken 49 hours ago at 45 % RH, and a reading holds 48 hours."
    )


def test_the_life_of_a_reading_is_the_plans():
    """What is too old for one plan holds for another."""
    patient = PLAN.replace("reading_life_hours = 48", "reading_life_hours = 240")
    assert looked(bench(ago=100, plan=patient)).open


def test_readings_dated_in_the_future_are_not_believed():
    """They would never grow old."""
    reason = only(looked(bench(ago=-72)))
    assert reason.about == "readings"
    assert "7 readings are dated ahead of the clock, up to 2026-03-05" in reason.why
    assert looked(bench(ago=-10)).open


@pytest.mark.parametrize(("rh", "is_open"), [(40, True), (50, True), (39.5, False), (58, False)])
def test_the_room_must_be_within_the_window_for_gluing(rh, is_open):
    """The window's ends are inside it."""
    found = looked(bench(climate=Climate(rh)))
    assert found.open is is_open
    if not is_open:
        reason = only(found)
        assert (reason.about, reason.next) == ("climate", "wait")
        assert reason.why == f"The room is at {rh:g} % RH, outside the 40 to 50 % for gluing."


def test_an_unknown_room_is_a_note():
    """A fresh shop without a hygrometer is not shut out."""
    found = looked(bench(climate=None))
    assert found.open
    (note,) = found.notes
    assert note.why == "The room's humidity is not known, so it could not be looked at."
    assert (note.about, note.asks) == ("climate", "air")


def test_a_size_that_will_leave_its_limits_waits():
    """Inside its limits in wet air, out of them once it has dried to the reference."""
    width = {("block", "width", "top"): 75.90, ("mould", "slot", "all"): 76.20}
    found = looked(bench(width, rh=60.0))
    reason = only(found)
    assert (reason.about, found.next) == ("width/top", "wait")
    assert re.fullmatch(
        r"width top, 75\.90 mm at 60 % RH, becomes 75\.4\d mm at 45 %, out of tolerance: "
        r"let it settle and read it again\.",
        reason.why,
    )


def test_a_size_read_in_wet_air_that_will_come_inside_is_left_to_settle():
    """Planing it now would make it undersize."""
    found = looked(bench({("block", "width", "top"): 76.45, ("mould", "slot", "all"): 76.70}, rh=60.0))
    about = {item.about: item for item in found.reasons}
    assert about["width/top"].next == "wait"
    assert "inside its limits: let it settle before any wood comes off." in about["width/top"].why


def test_wood_without_figures_is_a_note():
    """A species the handbook does not list keeps no part from the glue."""
    found = looked(bench(plan=PLAN.replace("black cherry", "unheard-of wood")))
    assert found.open
    assert "How the wood will move could not be told: no movement figures for" in found.notes[0].why


@pytest.mark.parametrize(
    ("state", "words", "asks"),
    [
        (State("CAL-1", "overdue", "2026-01-02T09:00:00Z", due=dt.date(2026, 2, 1)),
         "CAL-1 was due for a check on 2026-02-01.", "check"),
        (State("CAL-1", "overdue", due=dt.date(2026, 2, 1)),
         "CAL-1 has no check on record, and its first was due on 2026-02-01.", "check"),
        (State("CAL-1", "failed", error=0.06),
         ("CAL-1 was +0.06 mm off at its last check: clean its jaws, set its zero and check it again, then "
          "read the part again."), "check again"),
    ],
)  # fmt: skip
def test_an_instrument_not_to_be_believed(state, words, asks):
    """Overdue or failed: measure, and which check is asked for; how is for the command or the page to say."""
    found = looked(bench(states={"CAL-1": state}))
    reason = only(found)
    assert (reason.about, reason.why, found.next) == ("instrument/CAL-1", words, "measure")
    assert reason.asks == asks


def test_an_instrument_checked_and_described_no_more_is_not_believed():
    """Whoever strikes a caliper from shop.toml after a failed check does not mend its readings."""
    reason = only(looked(bench(states={}, struck=frozenset({"CAL-1"}))))
    assert (reason.about, reason.next) == ("instrument/CAL-1", "measure")
    assert reason.why.startswith("CAL-1 was checked and is in shop.toml no more")


def test_an_instrument_never_described_is_a_note():
    """A log may name what the shop does not know; it is judged as usual ones are."""
    found = looked(bench(states={}))
    assert found.open
    why = "CAL-1 is not in shop.toml: it is taken for a usual one that was never checked."
    assert found.notes == (Note("instrument/CAL-1", why),)


def test_a_size_that_is_met_read_by_an_instrument_found_off_is_in_doubt():
    """The gap is off by as much."""
    found_off = Stretch("9999", off=bias([50.0], [50.4], 0.01, [0.0]), why="CAL-2 read 0.4 mm too high")
    off = Instrument("CAL-2", history=(found_off,))
    slot = ("mould", "slot", "all")
    at = bench({slot: None}, more=[replace(reading(slot, 76.25, 1, 90), instrument="CAL-2")])
    reason = only(looked(replace(at, instrument_of=lambda name: off if name == "CAL-2" else CAL)))
    assert (reason.about, reason.next) == ("mate/seat", "measure")
    assert reason.why.startswith(
        "seat: mould slot all may be 0.40 mm off: CAL-2 read 0.4 mm too high; read it"
    )


def test_a_new_instrument_is_believed_with_a_note():
    """A fresh shop may glue before its first check."""
    found = looked(bench(states={"CAL-1": State("CAL-1", "never checked", due=dt.date(2026, 4, 1))}))
    assert found.open
    assert found.notes == (
        Note(
            "instrument/CAL-1",
            "CAL-1 has never been checked, and its first check is due on 2026-04-01.",
            "check",
        ),
    )


def test_mates_that_do_not_fit():
    """The gap, the worst it may be, and what it may be."""
    found = looked(bench({("mould", "slot", "all"): 76.90}))
    reason = only(found)
    assert (reason.about, found.next) == ("mate/seat", "work")
    assert reason.why == (
        "seat: the gap to mould slot would be +0.90 mm (+0.87 mm to +0.93 mm at worst) and may be 0.05 mm to "
        "0.45 mm: does not conform."
    )


def test_a_mate_not_measured():
    """Both sides must be read to tell a fit."""
    reason = only(looked(bench({("mould", "slot", "all"): None})))
    assert reason.why == "seat: width and mould slot must both be measured to tell their fit."


def overriding(*about, ago=0.5):
    body = {"reasons": [{"about": name, "why": "..."} for name in about]}
    return event("override", ago, 9, text="the client will have it so", body=body)


def test_an_override_opens_the_gate_and_keeps_its_reasons():
    """Open and overridden, with every reason still told."""
    found = looked(bench({("block", "squareness", ""): 0.30}, events=[overriding("squareness")]))
    assert (found.open, found.next, found.overridden) == (True, "glue", True)
    assert found.override == "the client will have it so"
    assert len(found.reasons) == 1


def test_an_override_ends_when_the_part_is_read_or_planed_again():
    """It was for the part as it was then."""
    off = {("block", "squareness", ""): 0.30}
    again = reading(("block", "squareness", ""), 0.31, 0.1, 99)
    assert not looked(bench(off, events=[overriding("squareness")], more=[again])).open
    assert not looked(bench(off, events=[overriding("squareness"), event("planed", 0.1, 10)])).open


def test_an_override_covers_only_what_it_named():
    """A new reason closes the gate again."""
    off = {("block", "squareness", ""): 0.30}
    found = looked(bench(off, events=[overriding("squareness")], climate=Climate(70)))
    assert (found.open, found.overridden) == (False, False)
    both = [overriding("squareness", "climate")]
    assert looked(bench(off, events=both, climate=Climate(70))).open


def kept(found, ago=0.5, **fields):
    """An override of a gate as it is kept."""
    return event("override", ago, 9, text="so", body=found.seen | fields)


def test_an_override_is_for_the_readings_it_was_given_upon():
    """A later row ends it, whatever its clock said, and so does one taken back or doubted."""
    off = {("block", "squareness", ""): 0.30}
    given = kept(looked(bench(off)))
    assert looked(bench(off, events=[given])).overridden
    worse = reading(("block", "squareness", ""), 0.90, 3.0, 99)
    for row in (worse, replace(worse, millionths=None, corrects=5), replace(worse, **HELD)):
        assert not looked(bench(off, events=[given], more=[row])).open
    assert not looked(bench(off, events=[given, event("planed taken back", 0.1, 10, body={"of": 1})])).open


def test_an_override_ends_when_what_the_part_meets_is_read_again():
    """It was for that gap."""
    off = {("mould", "slot", "all"): 76.50}
    given = kept(looked(bench(off)))
    assert looked(bench(off, events=[given])).overridden
    assert not looked(
        bench(off, events=[given], more=[reading(("mould", "slot", "all"), 77.5, 0.1, 99)])
    ).open


def test_an_override_ends_with_the_day_and_with_the_plan():
    """It was for the glue-up at hand."""
    off = {("block", "squareness", ""): 0.30}
    given = looked(bench(off))
    assert looked(bench(off, events=[kept(given, 23)])).overridden
    assert not looked(bench(off, events=[kept(given, 25)])).open
    assert not looked(bench(off, events=[kept(given)], plan=PLAN + "# revised\n")).open


@pytest.mark.parametrize(
    ("then", "now", "is_open"),
    [(52, 52, True), (52, 51, True), (52, 53, False), (52, 39, False), (38, 39, True)],
)
def test_an_override_is_for_the_air_it_was_given_in(then, now, is_open):
    """A room that is further out since is asked about again."""
    given = kept(looked(bench(climate=Climate(then))))
    assert looked(bench(events=[given], climate=Climate(now))).open is is_open


def test_an_override_is_for_what_was_asked():
    """Too near to tell is not the same as gone."""
    off = {("block", "squareness", ""): 0.30}
    given = kept(looked(bench(off)), reasons=[{"about": "squareness", "why": "...", "rank": "measure"}])
    assert not looked(bench(off, events=[given])).open


def test_no_override_is_told_where_nothing_needs_it():
    """Once the part is fit the gate is simply open."""
    found = looked(bench(events=[overriding("squareness")]))
    assert (found.open, found.overridden, found.override) == (True, False, "")


def test_a_part_glued_before_is_noted():
    """So that nobody records it twice without knowing."""
    found = looked(bench(events=[event("glue-up", 0.2)]))
    assert [note.why for note in found.notes] == ["The part was glued up before, on 2026-03-02."]


def test_lengths_are_told_in_the_shops_unit():
    """An inch shop reads inches in every sentence."""
    changes = {("block", "thickness", "top-left"): 18.24, ("mould", "slot", "all"): 76.9}
    found = looked(bench(changes, unit="in"))
    assert found.reasons
    assert all(" mm" not in item.why for item in found.reasons)


SENTENCES = [
    bench({("block", "thickness", "top-left"): 18.333333}),
    bench({("block", "thickness", "top-left"): 17.1}),
    bench({("block", "thickness", "top-left"): None}, climate=Climate(66.66666)),
    bench(ago=77.77777, states={"CAL-1": State("CAL-1", "failed", error=0.0612345)}),
    bench({("mould", "slot", "all"): 75.123456}, rh=63.333333),
]


@pytest.mark.parametrize("at", SENTENCES)
def test_sentences_are_whole_and_without_raw_numbers(at):
    """Each ends in a full stop and shows no raw number."""
    for text in (item.why for item in (*looked(at).reasons, *looked(at).notes)):
        assert text.endswith("."), text
        assert not re.search(r"\d\.\d{3,}", text), text
        assert not re.search(r"\b1 (readings|shavings|hours|days)\b", text), text
        assert "None" not in text
