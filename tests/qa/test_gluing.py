"""The gate over a store: what it gathers, and what is kept of overrides and glue-ups."""

import datetime as dt
from dataclasses import replace

import pytest

from qa.errors import ShopError
from qa.gate.gate import Climate
from qa.gate.gluing import after_clamp, look, newest_climate, override, record
from qa.record import BenchEvent, utc
from qa.shop import load_shop

NOW = dt.datetime(2026, 3, 2, 12, tzinfo=dt.UTC)
GOOD = {
    ("thickness", "bottom-left"): 18.0,
    ("thickness", "bottom-right"): 18.01,
    ("thickness", "top-left"): 18.02,
    ("thickness", "top-right"): 18.01,
    ("squareness", ""): 0.02,
}


def at(hours):
    return NOW + dt.timedelta(hours=hours)


@pytest.fixture
def measure(store, plan, reading):
    """Stores readings of the tail block, some hours before or after noon."""

    def take(values=GOOD, hours=-1.0, **fields):
        for number, ((name, station), value) in enumerate(values.items()):
            moment = utc(at(hours) + dt.timedelta(seconds=number))
            row = reading(0, value, taken_at=moment, characteristic=name, station=station, **fields)
            store.append(row, plan)

    return take


@pytest.fixture
def gate_at(shop, store):
    """The gate of the tail block at noon, or some hours later."""
    return lambda hours=0.0, climate=None: look(shop, store, "PG-01", "tail-block", climate, at(hours))[0]


def test_a_fresh_shop_is_open_with_notes(measure, gate_at):
    """No check of the caliper yet and no hygrometer: glue, and what could not be looked at is said."""
    measure()
    found = gate_at()
    assert (found.open, found.next, found.reasons) == (True, "glue", ())
    assert len(found.notes) == 3
    assert found.notes[-1].why == "CAL-1 has never been checked."


def test_a_build_or_part_not_known(shop, store, measure):
    """Refused with the near ones."""
    measure()
    with pytest.raises(ShopError, match="PG-01"):
        look(shop, store, "PG-02", "tail-block")
    with pytest.raises(ValueError, match="tail-block"):
        look(shop, store, "PG-01", "tail-blok")


def test_the_newest_climate_is_taken(store, measure, gate_at):
    """From the readings or logged by itself, while it is no older than a reading may be."""
    measure(rh_percent=44.0, temp_c=20.0)
    assert gate_at().climate == Climate(44.0, 20.0, "2026-03-02T11:00:04.000000Z")
    store.add_event(BenchEvent(utc(at(-0.5)), "climate", body={"rh_percent": 62}))
    found = gate_at()
    assert found.climate.rh_percent == 62
    assert [item.about for item in found.reasons] == ["climate"]
    assert gate_at(climate=Climate(45.0)).open


def test_an_old_climate_is_none():
    """Yesterday's air is not today's."""
    events = [BenchEvent(utc(at(-49)), "climate", body={"rh_percent": 45})]
    assert newest_climate([], events, NOW, dt.timedelta(hours=48)) is None
    assert newest_climate([], events, NOW, dt.timedelta(hours=50)).rh_percent == 45


def test_a_climate_dated_ahead_hides_no_other(store, measure, gate_at):
    """A reading of a wrong year is not the newest word on the room."""
    measure(rh_percent=45.0)
    measure({("moisture", ""): 8.0}, hours=24 * 30, part="side", unit="%", rh_percent=45.0)
    store.add_event(BenchEvent(utc(at(-0.5)), "climate", body={"rh_percent": 80}))
    assert [item.about for item in gate_at().reasons] == ["climate"]


@pytest.mark.parametrize("shown", [0, 100])
def test_a_hygrometer_at_the_end_of_its_scale_is_believed(store, measure, gate_at, shown):
    """The air it shows is none to glue in."""
    measure(rh_percent=45.0)
    store.add_event(BenchEvent(utc(at(-0.5)), "climate", body={"rh_percent": shown}))
    assert [item.about for item in gate_at().reasons] == ["climate"]


def test_striking_an_instrument_that_failed_opens_no_gate(shop, store, measure):
    """Its checks stay in the record, so its readings stay in doubt."""
    measure()
    body = {"reference": 18.0, "reading": 18.30}
    store.add_event(BenchEvent(utc(at(-0.5)), "check", instrument="CAL-1", body=body))
    without = replace(shop, instruments={"CAL-2": shop.instruments["CAL-2"]})
    found, _ = look(without, store, "PG-01", "tail-block", now=NOW)
    assert [(item.about, item.next) for item in found.reasons] == [("instrument/CAL-1", "measure")]


def test_a_reading_of_a_changed_plan_is_told_by_the_text_the_store_kept(shop, folder, store, measure):
    """The blade is another: what was read over the old one says nothing."""
    measure()
    path = folder / "plans" / "parlour-guitar.toml"
    path.write_text(path.read_text().replace("blade_length = 75", "blade_length = 300"), encoding="utf-8")
    found, _ = look(load_shop(folder), store, "PG-01", "tail-block", now=NOW)
    assert [item.about for item in found.reasons] == ["squareness"]


def test_a_failed_check_puts_the_readings_before_it_in_doubt(store, measure, gate_at):
    """Though they conform, each may be off by what the check found."""
    measure()
    body = {"reference": 18.0, "reading": 18.06}
    store.add_event(BenchEvent(utc(at(-0.5)), "check", instrument="CAL-1", body=body))
    found = gate_at()
    assert found.next == "measure"
    about = {item.about: item.why for item in found.reasons}
    assert "instrument/CAL-1" in about
    assert about["thickness/top-left"].startswith("thickness top-left may be 0.06 mm off: CAL-1 read 0.06 mm")
    assert "squareness" not in about


def test_an_override_is_kept_with_what_it_overrode(store, measure, gate_at):
    """For ever, with the reason and who gave it."""
    measure(GOOD | {("squareness", ""): 0.30})
    closed = gate_at()
    override(store, closed, " the heel hides it ", "North", at(0.1))
    (kept,) = store.events("override")
    assert (kept.text, kept.by, kept.part) == ("the heel hides it", "North", "tail-block")
    assert kept.body["reasons"] == [{"about": "squareness", "why": closed.reasons[0].why, "rank": "work"}]
    opened = gate_at(0.2)
    assert (opened.open, opened.overridden, opened.override) == (True, True, "the heel hides it")
    measure({("squareness", ""): 0.31}, hours=0.3)
    assert not gate_at(0.4).open
    assert store.events("override") == [kept]


def test_an_override_needs_a_reason(store, measure, gate_at):
    """Blank words are none."""
    measure(GOOD | {("squareness", ""): 0.30})
    with pytest.raises(ShopError, match="needs a reason"):
        override(store, gate_at(), "  ")
    assert store.events("override") == []


def test_a_glue_up_is_recorded_with_what_was_told(store, measure, gate_at):
    """Glue, batch, climate, open and clamp times; what was not told is left out."""
    measure(rh_percent=45.0, temp_c=21.0)
    what = {"glue": "hide", "batch": "", "open_minutes": 0.8, "clamp_minutes": 240, "squeeze_out": True,
            "clamps": None}  # fmt: skip
    record(store, gate_at(), what, "warmed the sides", "North")
    (kept,) = store.events("glue-up")
    assert kept.body == {
        "rh_percent": 45.0, "temp_c": 21.0, "glue": "hide", "open_minutes": 0.8, "clamp_minutes": 240,
        "squeeze_out": True, "overridden": False,
    }  # fmt: skip
    assert (kept.text, kept.by) == ("warmed the sides", "North")


def test_a_closed_gate_records_nothing(store, measure, gate_at):
    """Mend or override first."""
    measure(GOOD | {("squareness", ""): 0.30})
    with pytest.raises(ShopError, match="is closed for 1 reason: no glue-up is recorded"):
        record(store, gate_at(), {"glue": "hide"})
    assert store.events("glue-up") == []


def test_a_reading_put_right_after_the_glue_up_was_true_before_it(shop, store, plan, measure):
    """What is read again once the clamps are off corrects nothing of before; what is taken back does."""
    part, gap = plan.part("tail-block"), ("squareness", "")
    measure({gap: 0.50}, hours=-2)
    measure({gap: 0.02}, hours=-1)
    store.add_event(BenchEvent(utc(NOW), "glue-up", "PG-01", "tail-block"))
    last = store.readings("PG-01")[-1].sequence
    measure({gap: 0.22}, hours=5, corrects=last, why="read again")
    (moved,) = after_clamp(shop, store, "PG-01", part)
    assert (moved.before, moved.after) == pytest.approx((0.016, 0.176))
    gone = replace(store.readings("PG-01")[1], taken_at=utc(at(6)), millionths=None, corrects=last)
    store.append(gone, plan)
    (moved,) = after_clamp(shop, store, "PG-01", part)
    assert moved.before == pytest.approx(0.4)


def test_what_clamping_moved(shop, store, plan, measure):
    """Only what was read on both sides of the glue-up, with the uncertainty of the difference."""
    measure()
    part = plan.part("tail-block")
    assert after_clamp(shop, store, "PG-01", part) == []
    store.add_event(BenchEvent(utc(NOW), "glue-up", "PG-01", "tail-block"))
    measure({("squareness", ""): 0.22}, hours=5)
    (moved,) = after_clamp(shop, store, "PG-01", part)
    assert moved.characteristic == "squareness"
    assert (moved.before, moved.after) == pytest.approx((0.016, 0.176))
    assert moved.moved == pytest.approx(0.16)
    one = 0.8 * (0.03**2 / 3 + 0.01**2 + 0.01**2 / 12) ** 0.5
    assert moved.standard_uncertainty == pytest.approx(one * 2**0.5)
    assert moved.reach == pytest.approx(1.959964 * one * 2**0.5)
