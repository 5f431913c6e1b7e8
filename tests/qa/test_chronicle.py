"""A build's record: what every row is worth today, and what was decided."""

import dataclasses

import pytest

from qa.bench.watch import ACCEPTED
from qa.calipers.bias import Bias
from qa.chronicle import (
    ACCEPTED_LATER,
    CORRECTED,
    COUNTS,
    HELD,
    NOT_PLANNED,
    PLANED_SINCE,
    REPEATED,
    WITHDRAWN,
    WITHDRAWS,
    chronicle,
    glue_words,
    standings_of,
)
from qa.instruments import TYPED, Instrument, Stretch
from qa.record import BenchEvent


def at(minute):
    """A moment on a day in March."""
    return f"2026-03-02T09:{minute:02d}:00.000000Z"


@pytest.fixture
def row(reading):
    """A reading of the thickness at bottom-left, as the store gives it."""

    def make(sequence, value=18.0, **fields):
        given = {
            "sequence": sequence,
            "taken_at": at(sequence),
            "characteristic": "thickness",
            "station": "bottom-left",
        } | fields
        made = reading(sequence, value or 0.0, **given)
        return made if value is not None else dataclasses.replace(made, millionths=None)

    return make


def worth(rows, plan, events=()):
    """What each row is worth, in the order stored."""
    found = standings_of(rows, events, plan)
    return [found[item.sequence] for item in rows]


def test_the_last_reading_of_a_station_counts(row, plan):
    """Earlier ones were read again since; another station's stand by itself."""
    rows = [row(1), row(2), row(3, station="top-left")]
    assert worth(rows, plan) == [REPEATED, COUNTS, COUNTS]


def test_a_corrected_and_a_withdrawn_reading_do_not_count(row, plan):
    """The row that takes one back is worth nothing itself."""
    rows = [
        row(1),
        row(2, corrects=1),
        row(3, station="top-left"),
        row(4, None, station="top-left", corrects=3),
    ]
    assert worth(rows, plan) == [CORRECTED, COUNTS, WITHDRAWN, WITHDRAWS]


def test_a_held_reading_waits_or_was_accepted(row, plan):
    """An accepted one counts by the row that accepts it."""
    rows = [
        row(1, held=True),
        row(2, station="top-left", held=True),
        row(3, station="top-left", corrects=2, why=ACCEPTED),
    ]
    assert worth(rows, plan) == [HELD, ACCEPTED_LATER, COUNTS]


def test_a_held_reading_whose_acceptance_was_taken_back_is_held_again(row, plan):
    """What the key of undo takes back is as if it had not been."""
    rows = [row(1, held=True), row(2, corrects=1, why=ACCEPTED), row(3, None, corrects=2)]
    assert worth(rows, plan) == [HELD, WITHDRAWN, WITHDRAWS]


def test_planing_and_a_changed_plan_overtake_readings(row, plan):
    """What was read before the plane, and what the plan does not name."""
    rows = [row(1), row(2, characteristic="girth", station="")]
    planed = BenchEvent(at(5), "planed", "PG-01", "tail-block", sequence=1)
    assert worth(rows, plan, [planed]) == [PLANED_SINCE, NOT_PLANNED]


def test_rows_and_events_stand_in_the_order_of_time(row, plan):
    """With what was doubted, what is corrected and why, in the unit asked for."""
    rows = [
        row(1, 25.4, suspect="is 7.40 from the target.", note="torn"),
        row(9, 18.0, corrects=1, why="read again"),
    ]
    events = [
        BenchEvent(
            at(5), "skip", "PG-01", "tail-block", "thickness", "top-left", text="no sound wood", by="North",
        ),
        BenchEvent(
            at(7), "override", "PG-01", "tail-block", text="dry fit closes", by="K",
            body={"reasons": [{"about": "climate", "why": "The room is at 62 % RH."}]},
        ),
    ]  # fmt: skip
    found = chronicle(rows, events, plan, lambda name: TYPED, "in")
    assert [(item.what, item.standing) for item in found] == [
        ("1.0000 in", CORRECTED),
        ("left unread", ""),
        ("closed gate overridden", ""),
        ("0.7087 in", COUNTS),
    ]
    assert found[0].remarks == ("doubted: it is 7.40 from the target.", "torn")
    assert (found[1].place, found[1].who, found[1].remarks) == (
        "thickness top-left",
        "North",
        ("no sound wood",),
    )
    assert found[2].remarks == ("dry fit closes", "it overrode: The room is at 62 % RH.")
    assert found[3].remarks == ("in place of 1.0000 in (read again)",)


def test_a_reading_of_an_instrument_found_off_later_is_in_doubt(row, plan):
    """Told with what its check found."""
    off = Bias(0.06, 0.001, None, 25, 25, 0.01, 9, None)
    instrument = Instrument("CAL-1", history=(Stretch("9999", off=off, why="CAL-1 read 0.06 mm too high"),))
    found = chronicle([row(1)], [], plan, lambda name: instrument)
    assert found[0].doubtful
    assert found[0].remarks == ("in doubt: CAL-1 read 0.06 mm too high",)
    (noted,) = chronicle([row(1, note="in doubt about the light")], [], plan, lambda name: TYPED)
    assert not noted.doubtful


def test_a_glue_up_is_told_in_the_order_of_the_work():
    """Only what was kept of it."""
    kept = {
        "glue": "hide",
        "clamps": 4,
        "squeeze_out": False,
        "rh_percent": 44.0,
        "temp_c": None,
        "overridden": True,
    }
    told = dict(glue_words(BenchEvent(at(1), "glue-up", body=kept)))
    minutes = BenchEvent(at(1), "glue-up", body={"open_minutes": 0.5, "clamp_minutes": 240.0})
    assert glue_words(minutes) == [("open minutes", "0.5"), ("clamp minutes", "240")]
    assert told == {
        "glue": "hide",
        "clamps": "4",
        "squeeze-out": "not seen all along",
        "air": "44 % RH",
        "gate": "open by override",
    }
