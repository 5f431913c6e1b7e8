"""What was asked is remembered until anything is stored, by this program or another; on SQLite alone."""

from __future__ import annotations

from contextlib import closing

import pytest

from qa.record import BenchEvent
from qa.store.remembering import remembering
from qa.store.store import open_store
from qa.store.watch import StoreWatch

QUESTIONS = (
    lambda store: store.readings("PG-01", "tail-block"),
    lambda store: store.readings("PG-01"),
    lambda store: store.readings(after=1),
    lambda store: store.events(build="PG-01", part="tail-block"),
    lambda store: store.events("skip", "PG-01", "tail-block"),
    lambda store: store.events("skip", instrument="", newest=1),
    lambda store: store.events("skip"),
    lambda store: store.build("PG-01"),
    lambda store: store.build("PG-02"),
    lambda store: store.last_sequence(),
)


@pytest.fixture(scope="module")
def stores(tmp_path_factory):
    """An SQLite store, another program's over the same file, and one that remembers."""
    url = f"sqlite:///{tmp_path_factory.mktemp('remembering')}/readings.db"
    with open_store(url) as store, open_store(url) as other, closing(StoreWatch(store)) as watch:
        yield store, other, remembering(store, watch)


@pytest.mark.parametrize("by", [1, 2], ids=["another program", "this one"])
@pytest.mark.parametrize("act", ["read", "skip"])
def test_no_answer_is_older_than_the_last_row(stores, plan, reading, by, act):
    """Whoever has stored it, each answer is the store's own."""
    store, remembered = stores[0], stores[2]
    for _ in range(2):
        before = [ask(remembered) for ask in QUESTIONS]
        if act == "read":
            stores[by].append(reading(store.last_sequence()), plan)
        else:
            stores[by].add_event(BenchEvent(reading(0).taken_at, "skip", "PG-01", "tail-block"))
        after = [ask(remembered) for ask in QUESTIONS]

        assert before != after == [ask(store) for ask in QUESTIONS]


def test_the_store_is_asked_once_while_nothing_is_stored(stores, plan, reading, monkeypatch):
    """And a caller that changes its answer changes nobody else's."""
    store, _, remembered = stores
    store.append(reading(store.last_sequence()), plan)
    first = remembered.readings("PG-01", "tail-block")
    monkeypatch.setattr(store, "readings", lambda *asked: pytest.fail("asked again"))
    again = remembered.readings("PG-01", "tail-block")
    again.clear()

    assert remembered.readings("PG-01", "tail-block") == first != []


def test_a_store_on_a_server_is_left_as_it_is(stores, monkeypatch):
    """Its word of a commit comes a moment later, so memory could be behind."""
    store, _, _ = stores
    monkeypatch.setattr(store.engine.dialect, "name", "postgresql")

    assert remembering(store, None) is store
