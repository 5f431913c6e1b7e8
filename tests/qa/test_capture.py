"""At the bench: each reading goes to the station asked for, is safe at once, and can be taken back."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drivers.reading import Reading
from qa.bench.acts import pending_again, press
from qa.bench.capture import Bench, millionths_of
from qa.errors import ShopError
from qa.instruments import Instrument
from qa.judge import latest_by_station
from qa.plans.plan import read_plan
from qa.record import standing

CALIPER = Instrument("CAL-1")
PLACES = [
    ("thickness", "bottom-left"),
    ("thickness", "bottom-right"),
    ("thickness", "top-left"),
    ("thickness", "top-right"),
    ("squareness", ""),
]


class Clock:
    """A clock that moves a second at every look."""

    def __init__(self, step=1):
        self.now = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC)
        self.step = dt.timedelta(seconds=step)

    def __call__(self):
        self.now += self.step
        return self.now


@pytest.fixture
def bench(store, plan):
    """The tail block of PG-01 at a bench."""
    return Bench(store, plan, plan.part("tail-block"), "PG-01", CALIPER, clock=Clock())


def mm(value):
    """A reading of the caliper."""
    return Reading(Decimal(str(value)), "mm", f"{value} mm")


def due(bench):
    """The place that is asked for."""
    place = bench.next_place()
    return place.characteristic.name, place.station.name


def values(bench):
    """What counts at each place, in millimetres."""
    return {place: row.value for place, row in latest_by_station(standing(bench.rows())).items()}


def test_places_are_asked_for_in_the_order_of_the_plan_and_then_again(bench):
    """Every station once, then every one a second time; derived characteristics are never asked for."""
    asked = []
    for _ in range(10):
        asked.append(due(bench))
        bench.take(mm(18.0 if asked[-1][0] == "thickness" else 0.05))
    assert asked == PLACES * 2


def test_a_reading_is_kept_with_all_that_is_known_of_it(store, plan):
    """Where, by what, how much exactly, as entered, and under which plan."""
    bench = Bench(store, plan, plan.part("tail-block"), "PG-01", CALIPER, "North", "plane", clock=Clock())
    row = bench.take(Reading(Decimal("0.709"), "in", '0.709"'))
    assert (row.millionths, row.unit, row.as_entered) == (18_008_600, "mm", '0.709"')
    assert (row.bench, row.machine, row.instrument) == ("North", "plane", "CAL-1")
    assert (row.plan, row.held, row.corrects, row.taken_at) == (
        plan.digest, False, None, "2025-03-01T09:00:01.000000Z",
    )  # fmt: skip
    assert store.readings() == [row]


def test_a_meters_correction_is_added_to_what_it_showed(store, plan):
    """As of the room's air: what it is counts and what it showed is kept, which its range is asked about."""
    meter = Instrument("MM-1", quantity="percent", span=(5, 30), correction=-3.0)
    bench = Bench(store, plan, plan.part("side"), "PG-01", meter, clock=Clock())
    bench.take(mm(1.9))
    row = bench.take(Reading(Decimal("7.5"), "%", b"7.5 %"))
    assert (row.value, row.as_entered, row.held) == (4.5, "7.5 %", False)
    assert row.note == "shown 7.5 %, corrected by -3 %"


def test_a_reading_typed_instead_is_not_corrected(store, plan):
    """A thickness that a moisture meter cannot have read has nothing of its correction."""
    meter = Instrument("MM-1", quantity="percent", correction=-3.0)
    bench = Bench(store, plan, plan.part("side"), "PG-01", meter, clock=Clock())
    assert bench.take(mm(1.9)).value == 1.9


def test_undo_takes_back_one_step_at_a_time(bench):
    """Each undo is a row of its own; nothing is deleted."""
    for value in (18.01, 18.02):
        bench.take(mm(value))
    assert bench.undo().value == 18.02
    assert due(bench) == PLACES[1]
    assert bench.undo().value == 18.01
    assert due(bench) == PLACES[0]
    assert bench.undo() is None
    assert values(bench) == {}
    assert len(bench.rows()) == 4


def test_a_skip_is_kept_with_its_reason_and_can_be_taken_back(bench):
    """The next station is asked for; undo comes back to the one skipped."""
    bench.take(mm(18.0))
    assert bench.skip("knot").station.name == "bottom-right"
    assert due(bench) == PLACES[2]
    assert [event.text for event in bench.skipped()] == ["knot"]
    bench.undo()
    assert due(bench) == PLACES[1]
    assert bench.skipped() == []
    bench.undo()
    assert due(bench) == PLACES[0]


def test_reading_again_corrects_the_last(bench):
    """The same place is asked for; the earlier reading is kept but no longer counts."""
    bench.take(mm(18.3))
    bench.read_again()
    assert due(bench) == PLACES[0]
    row = bench.take(mm(18.1))
    assert row.why == "read again"
    assert values(bench) == {PLACES[0]: 18.1}
    assert due(bench) == PLACES[1]


def test_undoing_a_correction_brings_the_first_reading_back(bench):
    """And goes on with the next place, not with this one."""
    bench.take(mm(18.3))
    bench.read_again()
    bench.take(mm(18.1))
    bench.undo()
    assert values(bench) == {PLACES[0]: 18.3}
    assert due(bench) == PLACES[1]


def test_undo_before_the_correction_was_read_only_calls_it_off(bench):
    """Nothing is withdrawn."""
    bench.take(mm(18.3))
    bench.read_again()
    assert bench.undo() is None
    assert due(bench) == PLACES[1]
    assert values(bench) == {PLACES[0]: 18.3}


def test_what_a_revised_plan_has_no_place_for_is_not_read_again(bench):
    """The wish ends with its place, so that the part can be read all the same."""
    bench.take(mm(18.0))
    press(bench, "r", "mm")
    thickness = bench.part.characteristics["thickness"]
    fewer = {"thickness": replace(thickness, stations=thickness.stations[1:])}
    revised = replace(bench, part=replace(bench.part, characteristics=fewer), again=None)
    assert pending_again(revised) is None
    assert press(revised, "r", "mm").kind == "nothing"
    assert due(revised) == PLACES[1]


def test_there_is_nothing_to_read_again_at_first(bench):
    """Nor to undo."""
    assert bench.read_again() is None
    assert bench.undo() is None
    assert due(bench) == PLACES[0]


def test_a_doubted_reading_is_kept_but_does_not_count(bench):
    """Its place is asked for again; accepted, it counts."""
    row = bench.take(mm(0.709))
    assert row.held
    assert "inches" in row.suspect
    assert due(bench) == PLACES[0]
    assert values(bench) == {}
    assert bench.doubted() == row
    bench.accept(row)
    assert values(bench) == {PLACES[0]: 0.709}
    assert due(bench) == PLACES[1]
    assert bench.doubted() is None


def test_a_doubted_reading_may_simply_be_read_again(bench):
    """The next good reading takes its place, and is no correction of another station."""
    bench.take(mm(18.0))
    bench.take(mm(180.0))
    assert bench.read_again().held
    row = bench.take(mm(18.05))
    assert (row.station, row.corrects) == ("bottom-right", None)
    assert values(bench) == {PLACES[0]: 18.0, PLACES[1]: 18.05}


def test_undo_after_a_doubted_reading_drops_that_one(bench):
    """Not the good reading before it."""
    bench.take(mm(18.0))
    held = bench.take(mm(180.0))
    assert bench.undo() == held
    assert bench.doubted() is None
    assert values(bench) == {PLACES[0]: 18.0}
    assert bench.undo().value == 18.0


def test_a_doubted_correction_can_be_accepted(bench):
    """Until then what it would correct counts on."""
    bench.take(mm(18.3))
    bench.read_again()
    held = bench.take(mm(183.0))
    assert values(bench) == {PLACES[0]: 18.3}
    assert due(bench) == PLACES[0]
    bench.accept(held)
    assert values(bench) == {PLACES[0]: 183.0}
    assert due(bench) == PLACES[1]


def test_a_doubted_reading_outlives_a_restart(bench):
    """What waits for an answer is read from the rows."""
    bench.take(mm(180.0))
    held = again(bench).doubted()
    assert held.value == 180.0
    again(bench).accept(held)
    assert due(bench) == PLACES[1]


def test_units_that_do_not_fit_are_refused_and_nothing_is_stored(bench, plan):
    """Degrees are no thickness; a length is no per cent."""
    with pytest.raises(ShopError, match="is in deg, but thickness is read in mm"):
        bench.take(Reading(Decimal("18"), "deg", "18 deg"))
    assert bench.rows() == []
    moisture = plan.part("side").characteristics["moisture"]
    with pytest.raises(ShopError, match="read in %"):
        millionths_of(mm(8), moisture)
    assert millionths_of(Reading(Decimal("8.15"), "%", b"8.15"), moisture) == 8_150_000


@pytest.mark.parametrize("value", ["1e30", "-1e30", "10000.1"])
def test_a_reading_beyond_all_sense_is_refused(bench, value):
    """No part is longer than 10 m; nothing is stored."""
    with pytest.raises(ShopError, match="beyond 10 m"):
        bench.take(Reading(Decimal(value), "mm", value))
    assert bench.rows() == []


def test_a_part_with_nothing_to_read(store):
    """Is said plainly."""
    plan = read_plan('model = "m"\n[parts.p]\ncharacteristics = {}', "p.toml")
    with pytest.raises(ShopError, match="nothing to read"):
        Bench(store, plan, plan.part("p"), "B", CALIPER).next_place()
    with pytest.raises(ShopError, match="no part is called"):
        plan.part("q")


def test_a_pass_of_planing_asks_for_every_place_anew(bench):
    """Readings before it are kept; undo takes the pass back."""
    for _ in range(2):
        bench.take(mm(18.2))
    bench.planed()
    assert due(bench) == PLACES[0]
    bench.undo()
    assert due(bench) == PLACES[2]


def test_a_doubted_reading_of_before_a_pass_of_planing_cannot_be_accepted(bench):
    """It tells nothing of the part as it is now; the pass taken back, it can again."""
    held = bench.take(mm(1.8))
    bench.planed()
    assert bench.doubted() is None
    bench.undo()
    assert bench.doubted() == held


def again(bench):
    """The same bench after the program was stopped and started."""
    return replace(bench, again=None)


STEPS = st.lists(st.sampled_from(["read", "slip", "skip", "undo", "again", "accept", "planed"]), max_size=14)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=STEPS, number=st.integers(0, 10**9))
def test_whatever_was_done_a_restart_goes_on_where_it_was(store, plan, steps, number):
    """The same place is asked for, and no reading that counts has changed."""
    bench = Bench(store, plan, plan.part("tail-block"), f"B{number} {steps}", CALIPER, clock=Clock())
    for step in steps:
        if step in ("read", "slip"):
            place = bench.next_place().characteristic
            bench.take(mm((place.target or 100_000) / 1e6 * (10 if step == "slip" else 1)))
        elif step == "skip":
            bench.skip("x")
        elif step == "undo":
            bench.undo()
        elif step == "planed":
            bench.planed()
        elif step == "again":
            bench.read_again()
        elif (held := bench.doubted()) is not None:
            bench.accept(held)
        before = bench.rows()
        restarted = again(bench)
        assert restarted.rows() == before
        if bench.again is None:
            assert due(restarted) == due(bench)
    counting = standing(bench.rows())
    assert len({row.sequence for row in counting}) == len(counting)
    assert not any(row.held for row in counting)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.sampled_from(["read", "slip", "skip", "again"]), max_size=8), number=st.integers(0))
def test_undo_goes_all_the_way_back(sqlite_store, plan, steps, number):
    """As many undos as there were steps leave nothing that counts and the first place due."""
    bench = Bench(sqlite_store, plan, plan.part("tail-block"), f"U{number} {steps}", CALIPER, clock=Clock())
    for step in steps:
        if step in ("read", "slip"):
            bench.take(mm(180 if step == "slip" else 18))
        elif step == "skip":
            bench.skip("x")
        else:
            bench.read_again()
    for _ in range(len(steps) * 2 + 1):
        bench.undo()
    assert values(bench) == {}
    assert due(bench) == PLACES[0]
