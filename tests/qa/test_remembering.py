"""What was asked is remembered until anything is stored, by this program or another; on SQLite alone."""

from __future__ import annotations

from contextlib import closing

import pytest

from qa.plans.plan import read_plan
from qa.record import BenchEvent, BenchReading
from qa.store.remembering import remembering
from qa.store.store import open_store
from qa.store.watch import StoreWatch

PLAN = read_plan(
    """
model = "m"
[parts.p.characteristics.width]
kind = "width"
target = 8
tolerance = 0.1
stations = { middle = [0, 0] }
""",
    "m.toml",
)
QUESTIONS = (
    lambda store: store.readings("B-1", "p"),
    lambda store: store.readings("B-1"),
    lambda store: store.readings(after=1),
    lambda store: store.events(build="B-1", part="p"),
    lambda store: store.events("skip", "B-1", "p"),
    lambda store: store.events("skip", instrument="", newest=1),
    lambda store: store.events("skip"),
    lambda store: store.build("B-1"),
    lambda store: store.build("B-2"),
    lambda store: store.last_sequence(),
)


def reading(number):
    return BenchReading(f"2025-03-03T09:00:00.{number:06}Z", "B-1", "p", "width", "middle", 8_000_000)


@pytest.fixture(scope="module")
def stores(tmp_path_factory):
    """An SQLite store, another program's over the same file, and one that remembers."""
    url = f"sqlite:///{tmp_path_factory.mktemp('remembering')}/readings.db"
    with open_store(url) as store, open_store(url) as other, closing(StoreWatch(store)) as watch:
        yield store, other, remembering(store, watch)


@pytest.mark.parametrize("by", [1, 2], ids=["another program", "this one"])
@pytest.mark.parametrize("act", ["read", "skip"])
def test_no_answer_is_older_than_the_last_row(stores, by, act):
    """Whoever has stored it, each answer is the store's own."""
    store, remembered = stores[0], stores[2]
    for _ in range(2):
        before = [ask(remembered) for ask in QUESTIONS]
        if act == "read":
            stores[by].append(reading(store.last_sequence()), PLAN)
        else:
            stores[by].add_event(BenchEvent(reading(0).taken_at, "skip", "B-1", "p"))
        after = [ask(remembered) for ask in QUESTIONS]

        assert before != after == [ask(store) for ask in QUESTIONS]


def test_the_store_is_asked_once_while_nothing_is_stored(stores, monkeypatch):
    """And a caller that changes its answer changes nobody else's."""
    store, _, remembered = stores
    store.append(reading(store.last_sequence()), PLAN)
    first = remembered.readings("B-1", "p")
    monkeypatch.setattr(store, "readings", lambda *asked: pytest.fail("asked again"))
    again = remembered.readings("B-1", "p")
    again.clear()

    assert remembered.readings("B-1", "p") == first != []


def test_a_store_on_a_server_is_left_as_it_is(stores, monkeypatch):
    """Its word of a commit comes a moment later, so memory could be behind."""
    store, _, _ = stores
    monkeypatch.setattr(store.engine.dialect, "name", "postgresql")

    assert remembering(store, None) is store
