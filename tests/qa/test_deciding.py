"""The glue decision, kept once however often it is sent."""

import datetime as dt

import pytest

from qa.bench.benches import benches_since
from qa.chronicle import glue_words
from qa.errors import ShopError
from qa.gate.deciding import glue, last_glued
from qa.record import utc
from qa.store.store import open_store

WHAT = {"glue": "hide", "clamps": 4, "batch": "", "open_minutes": None}
GOOD = {
    ("thickness", "bottom-left"): 18.0,
    ("thickness", "bottom-right"): 18.01,
    ("thickness", "top-left"): 18.02,
    ("thickness", "top-right"): 18.01,
    ("squareness", ""): 0.02,
}


@pytest.fixture
def store(shop, plan, reading):
    """The small shop with a tail block read just now, open to glue."""
    with open_store(shop.store_url) as opened:
        moment = dt.datetime.now(dt.UTC)
        for number, ((name, station), value) in enumerate(GOOD.items()):
            at = utc(moment + dt.timedelta(microseconds=number))
            row = reading(0, value, taken_at=at, characteristic=name, station=station, bench="North")
            opened.append(row, plan)
        yield opened


def test_the_same_decision_sent_twice_is_kept_once(shop, store):
    """The second time the first one is told."""
    first = glue(shop, store, "PG-01", "tail-block", 0, WHAT, "even line", "K")
    again = glue(shop, store, "PG-01", "tail-block", 0, WHAT, "even line", "K")
    assert (first.anew, again.anew) == (True, False)
    assert first.event == again.event
    assert len(store.events("glue-up")) == 1
    assert first.event.body == {"glue": "hide", "clamps": 4, "overridden": False}


def test_another_decision_on_the_same_part_is_refused_until_it_is_looked_at_again(shop, store):
    """Two screens open on one part: the later is told, and may decide anew upon the first."""
    first = glue(shop, store, "PG-01", "tail-block", 0, WHAT)
    with pytest.raises(ShopError, match="glued up meanwhile"):
        glue(shop, store, "PG-01", "tail-block", 0, WHAT | {"glue": "epoxy"})
    assert last_glued(store, "PG-01", "tail-block") == first.event.sequence
    again = glue(shop, store, "PG-01", "tail-block", first.event.sequence, WHAT | {"glue": "epoxy"})
    assert again.anew
    assert (first.event.body.get("again"), again.event.body["again"]) == (None, True)
    assert ("glued", "again") in glue_words(again.event)


def test_a_closed_gate_keeps_nothing(shop, store, plan, reading):
    """One station far out, read since."""
    at = utc(dt.datetime.now(dt.UTC))
    store.append(reading(0, 19.0, taken_at=at, characteristic="thickness", station="top-left"), plan)
    with pytest.raises(ShopError, match="closed"):
        glue(shop, store, "PG-01", "tail-block", 0, WHAT)
    assert store.events("glue-up") == []


def test_benches_are_told_once(store):
    """Each by its name, and none where nothing was read since."""
    assert benches_since(store) == {"North"}
    assert benches_since(store, store.last_sequence()) == set()
