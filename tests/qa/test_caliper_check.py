"""Checks: kept, fed to later budgets; a failed one has what was read since the last good one judged again."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from qa.calipers.check import Changed, Rejudged, due, keep_check, rejudge
from qa.calipers.check_words import say_again
from qa.calipers.climate import keep_climate
from qa.calipers.doubts import worst_first
from qa.calipers.history import history, with_study
from qa.calipers.in_shop import instruments_of
from qa.calipers.standing import ADJUSTED, checks_of, no_check_before, state
from qa.calipers.status import standings
from qa.checking import check
from qa.conformity import Verdict
from qa.demo import make_demo
from qa.errors import ShopError
from qa.gate.gluing import newest_climate
from qa.instruments import Instrument
from qa.record import BenchEvent, BenchReading, utc
from qa.shop import load_shop
from qa.store.store import open_store

CALIPER = Instrument("CAL-1", max_permissible_error=0.03, check_every_days=30)
START = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC)


def day(number, hour=9, minute=0):
    """A moment in March 2025."""
    return dt.datetime(2025, 3, number, hour, minute, tzinfo=dt.UTC)


def event(moment, reference, reading, instrument="CAL-1", **body):
    """One reading of a block as the diary of a shop holds it: numbers as text."""
    body |= {"reference": str(reference), "reading": str(reading)}
    return BenchEvent(utc(moment), "check", instrument=instrument, body=body)


def fix(moment, instrument="CAL-1"):
    """Cleaned, and zero set again."""
    return BenchEvent(utc(moment), "fix", instrument=instrument)


def pairs(*numbers):
    """References and readings as they are kept."""
    return [(Decimal(str(a)), Decimal(str(b))) for a, b in numbers]


def test_readings_within_five_minutes_are_one_check():
    """So a good zero does not hide a block that was off."""
    events = [event(day(1, 9, 0), 25, 25.06), event(day(1, 9, 1), 0, 0), event(day(1, 10), 0, 0)]
    made = checks_of(CALIPER, events)
    assert [len(item.points) for item in made] == [2, 1]
    assert [item.passed(CALIPER) for item in made] == [False, True]


def test_a_session_is_one_check_however_close_the_next_is():
    """Cleaned and checked again within a minute: two checks."""
    events = [event(day(1, 9, 0), 25, 25.06, session="a"), event(day(1, 9, 1), 25, 25.00, session="b")]
    assert [item.passed(CALIPER) for item in checks_of(CALIPER, events)] == [False, True]


def test_an_event_that_holds_no_numbers_is_passed_over():
    """Old diaries hold anything."""
    bad = [event(day(1), "a block", "good"), event(day(1), "nan", 25), BenchEvent(utc(day(1)), "check")]
    assert checks_of(CALIPER, bad) == []
    assert state(CALIPER, bad, None, day(2)).trust == "never checked"


@pytest.mark.parametrize(("reading", "trust"), [("25.03", "good"), ("25.031", "failed"), ("24.97", "good")])
def test_the_permissible_error_itself_passes(reading, trust):
    """0.03 off is good, a thousandth more is not."""
    assert state(CALIPER, [event(day(1), 25, reading)], None, day(2)).trust == trust


@pytest.mark.parametrize(
    ("on", "trust"), [(day(31), "good"), (dt.datetime(2025, 4, 1, tzinfo=dt.UTC), "overdue")]
)
def test_a_check_is_overdue_the_day_after_it_was_due(on, trust):
    """Checked on the first of March, due on the thirty-first."""
    assert state(CALIPER, [event(day(1), 25, 25)], None, on).trust == trust


def stored(*events):
    """Events as a store gives them, numbered in the order they were kept."""
    return [replace(item, sequence=number) for number, item in enumerate(events, 1)]


def test_a_check_dated_ahead_of_the_clock_is_not_believed():
    """Its day is not known, so neither is when the next is due."""
    found = state(CALIPER, stored(event(day(28), 25, 25)), None, day(2))
    assert (found.trust, found.due) == ("overdue", None)
    assert found.owed == "has its last check dated 2025-03-28, ahead of the clock"


@pytest.mark.parametrize(("readings", "trust"), [((25, 26), "failed"), ((26, 25), "good")])
def test_a_check_dated_ahead_does_not_hide_the_one_made_after_it(readings, trust):
    """The clock was ahead at the first of the two, and is right at the second."""
    checks = stored(event(day(28), 25, readings[0]), event(day(1), 25, readings[1]))
    assert state(CALIPER, checks, None, day(2)).trust == trust


@pytest.mark.parametrize(
    ("before", "unfound"), [([], True), ([(28, 26)], False), ([(1, 26)], False), ([(1, 26), (28, 25)], True)]
)
def test_an_adjustment_follows_the_failed_check_kept_before_it(before, unfound):
    """Whatever day the clock gave that; one that failed must be the last before it."""
    events = [event(day(number), 25, reading) for number, reading in before]
    events = stored(*events, event(day(2), 25, 25, state=ADJUSTED))
    made = max(checks_of(CALIPER, events), key=lambda check: check.sequence)
    assert no_check_before(made, CALIPER, events) == unfound


def off_by_day(events, instrument=CALIPER):
    """For noon of each day of March, by how much a reading of 20 was found off (None for not at all)."""
    known = Instrument("CAL-1", check_every_days=30, history=history(instrument, events))
    found = {}
    for number in range(1, 29):
        stretch = known.stretch(utc(day(number, 12)))
        found[number] = None if stretch.off is None else round(stretch.off.at(20)[0], 3)
    return found


def test_a_failed_check_doubts_what_came_after_the_last_good_one():
    """Good on the fifth, failed on the tenth, set right on the twelfth."""
    events = [
        event(day(5), 25, 25), event(day(10), 25, 25.08), event(day(12), 25, 25, state=ADJUSTED),
    ]  # fmt: skip
    found = off_by_day(events)
    assert {number for number, off in found.items() if off} == set(range(5, 12))
    assert found[7] == 0.08


def test_a_fix_ends_the_doubt_and_begins_it():
    """What was set right on the seventh is not doubted by a check that failed on the tenth."""
    found = off_by_day([event(day(5), 25, 25), fix(day(7)), event(day(10), 25, 25.08), fix(day(12))])
    assert {number for number, off in found.items() if off} == set(range(7, 12))


def test_a_check_failed_after_adjustment_says_nothing_of_what_was_before():
    """It was set wrong: only what follows is doubted."""
    found = off_by_day([event(day(5), 25, 25), event(day(10), 25, 25.08, state=ADJUSTED)])
    assert {number for number, off in found.items() if off} == set(range(10, 29))


def test_a_good_check_is_believed_until_it_is_due():
    """Its bias counts for thirty days, then the permissible error again."""
    caliper = Instrument("CAL-1", check_every_days=10, history=())
    known = history(caliper, [event(day(5), 0, 0), event(day(5), 25, 25)])
    verified = [(item.until[:10], item.verified is not None) for item in known]
    assert verified == [("2025-03-05", False), ("2025-03-16", True), ("9999", False)]


def test_checks_of_other_instruments_say_nothing():
    """Nor do their fixes."""
    assert history(CALIPER, [event(day(1), 25, 26, instrument="CAL-2"), fix(day(2), "CAL-2")]) == ()


def test_a_correction_is_taken_in_before_a_meter_is_judged():
    """A hygrometer that shows 76 over salt at 75, with its correction of -1."""
    meter = Instrument("HYGRO", quantity="percent", max_permissible_error=0.5, correction=-1.0)
    (made,) = checks_of(meter, [event(day(1), 75, 76, instrument="HYGRO")])
    assert made.worst.error == pytest.approx(0.0)


@pytest.mark.parametrize(
    "body",
    [{"repeatability": 0.02}, *({"repeatability": sd, "dof": 9} for sd in ("x", -1, "nan"))],
    ids=["no dof", "no number", "below zero", "nan"],
)  # fmt: skip
def test_a_study_without_sound_numbers_is_passed_over(body):
    """The description in shop.toml stays."""
    assert with_study(CALIPER, [BenchEvent(utc(START), "study", instrument="CAL-1", body=body)]) == CALIPER


def test_the_last_study_stands_in_place_of_the_description():
    """With its degrees of freedom."""
    events = [
        BenchEvent(utc(day(n)), "study", instrument="CAL-1", body={"repeatability": sd, "dof": 9})
        for n, sd in ((1, 0.02), (2, 0.015))
    ]
    found = with_study(CALIPER, events)
    assert (found.repeatability, found.repeatability_dof) == (0.015, 9)


@pytest.fixture
def read_shop(shop, plan):
    """The small shop: PG-01 read after a good check of CAL-1, PG-02 read before it."""
    with open_store(shop.store_url) as store:
        for build, moment in (("PG-02", day(1)), ("PG-01", day(3))):
            for number, station in enumerate(("bottom-left", "bottom-right", "top-left", "top-right")):
                at = utc(moment + dt.timedelta(minutes=number))
                value = 18_190_000 if station == "top-right" else 18_000_000
                store.append(
                    BenchReading(at, build, "tail-block", "thickness", station, value, instrument="CAL-1"),
                    plan,
                )
            at = utc(moment + dt.timedelta(minutes=9))
            store.append(
                BenchReading(at, build, "tail-block", "squareness", "", 50_000, instrument="CAL-1"), plan
            )
        keep_check(store, shop.instrument("CAL-1"), pairs((0, 0), (25, 25)), now=day(2))
        yield shop, store


def verdicts(shop, store, build):
    """The verdicts on a build's thickness, by station."""
    (judged,) = check(shop, store, build)
    return {
        item.station: item
        for part in judged.parts
        for item in part.characteristics
        if item.characteristic == "thickness" and part.part == "tail-block"
    }


def test_a_failed_check_judges_again_what_it_touches_and_rewrites_nothing(read_shop):
    """0.08 too high since the second: PG-01 is named and its corner comes inside, PG-02 is left alone."""
    shop, store = read_shop
    before = store.readings()
    caliper = shop.instrument("CAL-1")
    made = keep_check(store, caliper, pairs((0, "0.08"), (25, "25.08")), now=day(4))
    found = rejudge(shop, store, caliper, made)
    assert found.builds == ("PG-01",)
    assert (found.readings, found.left) == (4, 1)
    assert found.since == utc(day(2) + dt.timedelta(microseconds=1))
    (changed,) = found.changed
    assert (changed.station, str(changed.before), str(changed.after)) == (
        "top-right",
        "does not conform",
        "conforms",
    )
    assert (changed.value, changed.corrected) == (pytest.approx(18.19), pytest.approx(18.11))
    assert store.readings() == before


def test_verdicts_are_marked_and_stay_what_they_were(read_shop):
    """The verdict is still that of the reading; beside it stands what it rests on, and the value without."""
    shop, store = read_shop
    keep_check(store, shop.instrument("CAL-1"), pairs((0, "0.08"), (25, "25.08")), now=day(4))
    marked = verdicts(shop, store, "PG-01")["top-right"]
    assert str(marked.verdict) == "does not conform"
    assert "CAL-1 read 0.08 mm too high" in marked.in_doubt
    assert marked.value - marked.off == pytest.approx(18.11)
    assert verdicts(shop, store, "PG-02")["top-right"].in_doubt == ""


def test_an_inch_shop_is_told_in_inches(read_shop):
    """What was found wrong is a length like any other; what is judged again is the same."""
    shop, store = read_shop
    inch = replace(shop, unit="in")
    made = keep_check(store, shop.instrument("CAL-1"), pairs((0, "0.08"), (25, "25.08")), now=day(4))
    assert "CAL-1 read 0.0031 in too high" in verdicts(inch, store, "PG-01")["top-right"].in_doubt
    mm, found = (rejudge(one, store, one.instrument("CAL-1"), made) for one in (shop, inch))
    assert found == mm


def test_a_difference_of_two_readings_is_not_in_doubt(read_shop):
    """An offset cancels in a taper."""
    shop, store = read_shop
    keep_check(store, shop.instrument("CAL-1"), pairs((0, "0.08"), (25, "25.08")), now=day(4))
    (judged,) = check(shop, store, "PG-01", "tail-block")
    (taper,) = (item for item in judged.parts[0].characteristics if item.characteristic == "taper")
    assert taper.in_doubt == ""


def test_a_good_check_narrows_what_is_claimed_of_later_readings(read_shop):
    """PG-01 was read after the good check, PG-02 before it."""
    shop, store = read_shop
    later, earlier = (verdicts(shop, store, build)["top-left"] for build in ("PG-01", "PG-02"))
    assert later.standard_uncertainty < earlier.standard_uncertainty


def test_a_good_check_judges_nothing_again(read_shop):
    """It confirms."""
    shop, store = read_shop
    made = keep_check(store, shop.instrument("CAL-1"), pairs((25, 25)), now=day(4))
    assert rejudge(shop, store, shop.instrument("CAL-1"), made) is None
    assert due(shop.instrument("CAL-1"), made) is None


def test_a_check_is_kept_with_its_state_and_exact_numbers(read_shop):
    """As text, so that 25.00 stays 25.00."""
    shop, store = read_shop
    keep_check(
        store, shop.instrument("CAL-1"), pairs(("25.00", "25.01")), adjusted=True, by="North", now=day(5)
    )
    last = store.events("check")[-1]
    assert (last.body["reference"], last.body["reading"], last.body["state"]) == ("25.00", "25.01", ADJUSTED)
    assert last.by == "North"


def test_a_check_of_nothing_of_a_slip_or_beyond_the_range_is_refused(read_shop):
    """And so is a slip of the decimal point, or inches: before anything is stored."""
    _, store = read_shop
    count = len(store.events("check"))
    gauge = Instrument("DEPTH", span=(-10.0, 25.4))
    for wrong in ([], pairs((30, 30)), pairs((-5, -5)), pairs((20, 2)), pairs((20, 2000)), pairs((25.4, 1))):
        with pytest.raises(ShopError):
            keep_check(store, gauge, wrong)
    assert len(store.events("check")) == count


def test_closed_jaws_alone_do_not_clear_what_failed_at_a_block(read_shop):
    """A zero that was good all along says nothing of a scale, worn jaws or dirt at the block."""
    _, store = read_shop
    with pytest.raises(ShopError, match="failed at 25 mm, where closed jaws tell nothing: read a known size"):
        failed_then_zeroed(store, pairs((0, 0), (25, 25.2)))
    assert state(CALIPER, store.events("check"), None, day(6)).trust == "failed"


def test_closed_jaws_alone_clear_an_offset(read_shop):
    """The zero was off by as much, and was set."""
    _, store = read_shop
    assert failed_then_zeroed(store, pairs((0, 0.2), (25, 25.2))).passed(CALIPER)


def failed_then_zeroed(store, failed):
    """A check that failed, and one of closed jaws only after it."""
    keep_check(store, CALIPER, failed, now=day(5, 9))
    return keep_check(store, CALIPER, pairs((0, 0)), adjusted=True, now=day(5, 10))


def test_a_correction_given_after_a_check_does_not_mend_what_was_read_before(read_shop):
    """It was found 3 % off without one: that stays, until it is checked with it."""
    _, store = read_shop
    meter = Instrument("MM-1", quantity="percent", max_permissible_error=1.0)
    keep_check(store, meter, pairs((9, 12)), now=day(5))
    corrected = replace(meter, correction=-3.0)
    assert state(corrected, store.events("check"), None, day(6)).error == 3.0
    keep_check(store, corrected, pairs((9, 12)), adjusted=True, now=day(6))
    assert state(corrected, store.events("check"), None, day(6)).error == 0.0
    before, between, after = history(corrected, store.events("check"))
    assert (before.off is not None, between.off is not None, after.off) == (True, True, None)


def test_a_moisture_meter_found_off_doubts_what_it_read(shop, plan):
    """7 % read 2 % too low is 9 %, still in its limits of 6.5 to 9.5; 8 % is 10 %, and is not."""
    meter = Instrument("MM-1", quantity="percent", max_permissible_error=0.5)
    shop = replace(shop, instruments={**shop.instruments, "MM-1": meter})
    with open_store(shop.store_url) as store:
        for number, value in enumerate((7_000_000, 8_000_000), 1):
            row = BenchReading(utc(day(number)), f"PG-0{number}", "side", "moisture", "", value, "%")
            store.append(replace(row, instrument="MM-1"), plan)
        found = rejudge(shop, store, meter, keep_check(store, meter, pairs((8, 6), (12, 10)), now=day(3)))
        assert (found.readings, found.left) == (2, 0)
        assert [(item.build, item.value, item.corrected) for item in found.changed] == [("PG-02", 8.0, 10.0)]
        (build,) = check(shop, store, "PG-02")
    (moisture,) = (item for item in build.parts[1].characteristics if item.characteristic == "moisture")
    assert (moisture.off, moisture.in_doubt[:11]) == (pytest.approx(-2.0), "MM-1 read 2")


def test_closed_jaws_that_read_a_size_are_a_slip(read_shop):
    """No caliper is an inch off: zero was pressed on something, or the numbers were changed about."""
    _, store = read_shop
    with pytest.raises(ShopError, match="read at 0 is nowhere near it: a slip"):
        keep_check(store, CALIPER, pairs((0, 25.01)), now=day(5))


def test_the_demo_names_the_two_plates(tmp_path):
    """CAL-2 found 0.06 high at OM-30: OM-26, 28 and 30 since its last good check; 2.79 read was 2.73."""
    make_demo(tmp_path / "demo")
    shop = load_shop(tmp_path / "demo")
    caliper = shop.instrument("CAL-2")
    with open_store(shop.store_url) as store:
        failed = [item for item in checks_of(caliper, store.events("check")) if not item.passed(caliper)]
        (made,) = failed
        found = rejudge(shop, store, caliper, made)
        judged = check(shop, store, "OM-26", "top")
    assert found.builds == ("OM-26", "OM-28", "OM-30")
    plates = [
        (item.build, item.part, round(item.value, 2), round(item.corrected, 2))
        for item in found.changed
        if str(item.after) == "does not conform"
    ]
    assert plates == [("OM-26", "top", 2.79, 2.73), ("OM-30", "top", 2.79, 2.73)]
    assert all(item.in_doubt for part in judged[0].parts for item in part.characteristics)


def test_the_standing_of_every_instrument(read_shop):
    """State, figures and what one reading can prove: ten standard deviations, and 1.645 u off the limits."""
    shop, store = read_shop
    body = {"repeatability": 0.012, "dof": 9}
    store.add_event(BenchEvent(utc(day(3)), "study", instrument="CAL-1", body=body))
    known = {item.instrument.id: item for item in standings(shop, store, day(4))}
    assert known["CAL-1"].state.trust == "good"
    assert known["CAL-1"].provable == pytest.approx(0.12)
    assert known["CAL-1"].guard == pytest.approx(1.645 * known["CAL-1"].reading.u)
    assert known["CAL-2"].state.trust == "never checked"
    assert known["CAL-2"].reading.u == pytest.approx((0.03**2 / 3 + 0.01**2 / 12 + 0.01**2) ** 0.5)


def test_the_check_that_is_shown_is_the_one_the_standing_goes_by(read_shop):
    """The one kept last, though the clock was ahead at the one before it."""
    shop, store = read_shop
    for number, reading in ((28, 25), (4, 26)):
        store.add_event(event(day(number), 25, reading))
    known = {item.instrument.id: item for item in standings(shop, store, day(5))}["CAL-1"]
    assert (known.state.trust, known.check.at) == ("failed", known.state.checked_at)


def test_the_air_is_kept_corrected_and_as_shown(read_shop):
    """The gate takes the corrected figure."""
    shop, store = read_shop
    meter = Instrument("HYGRO", quantity="percent", correction=-1.0)
    keep_climate(store, meter, rh=44, temp=20, now=day(4))
    keep_climate(store, meter, moisture=8.4, now=day(4, 10))
    first, second = store.events("climate")
    assert dict(first.body) == {"rh_read": 44, "rh_percent": 43, "temp_c": 20}
    assert second.body["moisture_percent"] == pytest.approx(7.4)
    newest = newest_climate([], store.events("climate"), day(4, 11), dt.timedelta(hours=24))
    assert newest.rh_percent == 43
    assert instruments_of(shop, store)("HYGRO").id == ""


@pytest.mark.parametrize(
    ("instrument", "given"),
    [
        (None, {}),
        (None, {"rh": 120}),
        (None, {"rh": 44, "temp": 200}),
        (CALIPER, {"rh": 44}),
        (Instrument("H", quantity="percent", correction=-5), {"rh": 3}),
        (None, {"rh": float("nan")}),
    ],
    ids=["nothing", "above 100", "too hot", "a caliper", "below zero", "nan"],
)
def test_air_that_cannot_be_is_refused(read_shop, instrument, given):
    """And nothing is kept."""
    _, store = read_shop
    with pytest.raises(ShopError):
        keep_climate(store, instrument, **given)
    assert store.events("climate") == []


def test_air_that_a_correction_makes_impossible_is_told_with_it(read_shop):
    """The meter can show it; only its correction makes it none."""
    _, store = read_shop
    meter = Instrument("H", quantity="percent", correction=-5)
    with pytest.raises(ShopError, match="3 % is -2 % with the correction of H: no relative humidity"):
        keep_climate(store, meter, rh=3)


def test_many_builds_in_doubt_are_told_by_the_first_and_the_last():
    """Eight are named one by one."""
    many = Rejudged(None, None, 40, 0, tuple(f"PG-{n:02d}" for n in range(1, 11)), ())
    assert "40 readings in 10 builds, PG-01 to PG-10, were taken with it" in say_again(many)[0]
    one = replace(many, readings=1, builds=("PG-01",), left=1)
    assert say_again(one)[0].startswith("1 reading in PG-01 was taken with it")
    assert say_again(one)[1] == "1 more was not read between the jaws, and is left as it is."


def test_a_log_of_past_years_owes_no_check_that_nobody_asked_for(shop, sqlite_store, plan, reading):
    """The first check is due an interval after the first reading was stored; then the reason says so."""
    sqlite_store.append(reading(0), plan)
    first = sqlite_store.first_use(["CAL-1", "CAL-2"])
    today = dt.datetime.now(dt.UTC)
    assert list(first) == ["CAL-1"]
    known = state(CALIPER, [], first["CAL-1"], today)
    assert (known.trust, known.due) == ("never checked", today.date() + dt.timedelta(days=30))
    later = state(CALIPER, [], first["CAL-1"], today + dt.timedelta(days=31))
    assert not later.believed
    assert later.owed == f"has no check on record, and its first was due on {known.due}"


def test_verdicts_that_change_are_told_in_one_order_everywhere():
    """By what each is then: out of tolerance, not measured, undecided, in tolerance."""
    changed = tuple(
        Changed("B-1", "side", "thickness", None, "mm", Verdict.UNDECIDED, after, 2.0, 1.9)
        for after in Verdict
    )
    assert [str(item.after) for item in worst_first(changed)] == [
        "does not conform", "not measured", "undecided", "conforms",
    ]  # fmt: skip
