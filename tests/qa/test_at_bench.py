"""Which part an instrument reads, and readings without a place, told from the store alone."""

import datetime as dt
from decimal import Decimal

import pytest

from drivers.reading import Reading
from qa.bench.at_bench import (
    Chosen,
    choose,
    chosen,
    keep_heard,
    lay_down,
    reading_of,
    recent,
    settle,
    unplaced,
)
from qa.errors import ShopError
from qa.record import BenchEvent

TAIL = Chosen("CAL-1", "PG-01", "tail-block", "parlour-guitar", "North")
SIDE = Chosen("CAL-1", "PG-01", "side")
SENT = Reading(Decimal("18.02"), "mm", b"+ 18.02, MM\r\n", dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC))


def test_an_instrument_reads_the_part_it_was_put_to_last(store):
    """Each instrument its own, with bench and model; none before the first."""
    assert chosen(store, "CAL-1") is None
    choose(store, TAIL)
    choose(store, Chosen("CAL-2", "PG-02", "side"))
    assert chosen(store, "CAL-1") == TAIL
    choose(store, SIDE)
    assert chosen(store, "CAL-1") == SIDE
    assert chosen(store, "CAL-2").build == "PG-02"


def test_choosing_the_same_again_adds_no_event(store):
    """A page that asks twice leaves one row."""
    assert choose(store, TAIL)
    assert not choose(store, TAIL)
    assert len(store.events("at the bench")) == 1


def test_a_part_put_down_is_read_no_more(store):
    """Until one is chosen again; putting down what is not there does nothing."""
    assert not lay_down(store, "CAL-1")
    choose(store, TAIL)
    assert lay_down(store, "CAL-1")
    assert chosen(store, "CAL-1") is None
    choose(store, TAIL)
    assert chosen(store, "CAL-1") == TAIL


def test_recent_parts_come_newest_first_and_once(store):
    """A part that was at a bench twice is named once."""
    for item in (TAIL, SIDE, TAIL):
        choose(store, item)
    assert [item.part for item in recent(store)] == ["tail-block", "side"]


def test_a_reading_without_a_place_is_kept_as_it_was_sent(store):
    """Number, unit, raw text and time come back; settled, it is listed no more."""
    kept = keep_heard(store, "CAL-1", SENT, "no part was chosen")
    (found,) = unplaced(store)
    assert (found.sequence, found.instrument, found.body["raw"]) == (kept.sequence, "CAL-1", "+ 18.02, MM")
    again = reading_of(found)
    assert (again.value, again.unit, again.at) == (SENT.value, "mm", SENT.at)
    settle(store, found, "let go")
    assert unplaced(store) == []


def test_what_is_no_reading_gives_none(store):
    """An event of another kind is refused in words."""
    with pytest.raises(ShopError, match="no reading"):
        reading_of(BenchEvent("2025-03-01T09:00:00.000000Z", "skip"))
