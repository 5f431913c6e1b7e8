"""Listening to the shop's instruments: each reading finds its part or is kept; the line's state is told."""

from __future__ import annotations

import asyncio
import json
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from dashboard.bell import Bell
from dashboard.desk import Desk
from dashboard.hearing import Hearing
from drivers.frames import load_profile
from drivers.simulated import SimulatedCaliper
from qa.bench.at_bench import Chosen, choose, unplaced
from qa.store.store import Store

AT = Chosen("CAL-1", "TG-9", "brace", "travel-guitar", "North")
PATIENCE = 8.0


def until(found, what=""):
    """Wait until `found()` is true, and give it."""
    end = time.monotonic() + PATIENCE
    while not (value := found()):
        assert time.monotonic() < end, f"never happened: {what}"
        time.sleep(0.01)
    return value


@pytest.fixture
def folder(shops, tmp_path):
    """An empty shop whose caliper has a line."""
    made = shops.empty_shop(tmp_path / "shop")
    text = (made / "shop.toml").read_text()
    (made / "shop.toml").write_text(text.replace("[instruments.CAL-1]", '[instruments.CAL-1]\nurl = "line"'))
    return made


@pytest.fixture
def desk(folder):
    """A desk over it."""
    made = Desk(folder)
    yield made
    made.close()


@pytest.fixture
def caliper(folder):
    """A make-believe caliper on the line."""
    with SimulatedCaliper(load_profile("text-line"), link=folder / "line") as made:
        yield made


@pytest.fixture
def hearing(desk, caliper):
    """The ears, once they are on the line."""
    with Hearing(desk) as made:
        desk.hearing = made
        until(lambda: made.standing("CAL-1") and made.standing("CAL-1").line == "open", "on the line")
        yield made


def test_a_reading_goes_to_the_part_its_instrument_was_put_to(desk, hearing, caliper):
    """Durable, with instrument and bench; the position tells, and open pages are told of the row at once."""
    before, bell = desk.position(), desk.lookout.bell_of(AT.build, AT.part)
    choose(desk.store(), AT)
    caliper.press(8.02)
    (row,) = until(lambda: desk.store().readings("TG-9"), "a row")

    assert (row.part, row.station, row.value, row.instrument, row.bench) == (
        "brace", "middle", 8.02, "CAL-1", "North",
    )  # fmt: skip
    assert desk.position() != before
    news = json.loads(until(lambda: bell.news, "news"))
    assert (news["build"], news["part"], news["mark"]) == ("TG-9", "brace", row.sequence)
    assert news["number"] == {"mm": ["8.02", "mm"], "in": ["0.3157", "in"]}
    assert hearing.standing("CAL-1").age() < PATIENCE


def test_a_reading_without_a_part_is_kept_with_its_raw_text(desk, hearing, caliper):
    """As an event; no row."""
    caliper.press(8.02)
    (kept,) = until(lambda: unplaced(desk.store()), "kept")

    assert "8.02" in kept.body["raw"]
    assert desk.store().readings() == []


def test_a_reading_that_does_not_fit_its_part_is_kept_with_the_reason(desk, hearing, caliper):
    """The part is no longer in the plan."""
    choose(desk.store(), Chosen("CAL-1", "TG-9", "bridge", "travel-guitar"))
    caliper.press(8.02)
    (kept,) = until(lambda: unplaced(desk.store()), "kept")

    assert "bridge" in kept.body["why"]


def test_a_reading_waits_for_a_store_that_cannot_be_written(desk, hearing, caliper, monkeypatch):
    """It is said, and stored once as soon as that is possible again."""
    from qa.errors import StoreError

    choose(desk.store(), AT)
    with monkeypatch.context() as patched:

        def full(*_):
            raise StoreError("the disk is full")

        patched.setattr(Store, "append", full)
        caliper.press(8.02)
        said = until(lambda: hearing.standing("CAL-1").unkept, "said")
        assert "8.02 mm waits to be stored: the disk is full" in said
    until(lambda: desk.store().readings("TG-9"), "a row")
    until(lambda: not hearing.standing("CAL-1").unkept, "said no more")
    assert len(desk.store().readings("TG-9")) == 1


def test_a_reading_waits_for_a_shop_that_cannot_be_read(desk, hearing, caliper, folder):
    """While somebody is still writing its file; it is said, and the ear goes on."""
    choose(desk.store(), AT)
    path = folder / "shop.toml"
    text = path.read_text()
    path.write_text(text + "\n[instruments.CAL-")
    caliper.press(8.02)
    said = until(lambda: hearing.standing("CAL-1").unkept, "said")
    assert "8.02 mm waits to be stored: shop.toml" in said
    path.write_text(text)
    until(lambda: desk.store().readings("TG-9"), "a row")
    caliper.press(8.03)
    until(lambda: len(desk.store().readings("TG-9")) == 2, "another row")
    assert not hearing.standing("CAL-1").unkept


def test_a_line_that_goes_and_comes_is_told(desk, hearing, caliper):
    """With a change each time, so that pages look."""
    seen = hearing.changes
    caliper.unplug()
    until(lambda: hearing.standing("CAL-1").line in ("lost", "waiting"), "lost")
    assert hearing.standing("CAL-1").why
    assert hearing.changes > seen
    caliper.plug()
    until(lambda: hearing.standing("CAL-1").line == "open", "open again")


def test_bad_records_are_counted_and_the_last_is_shown(desk, hearing, caliper):
    """All of them, though a noisy line does not make the pages look at each."""
    seen = hearing.changes
    caliper.say(b"?!\r\n" * 50)
    until(lambda: hearing.standing("CAL-1").bad == 50, "50 bad records")

    assert hearing.standing("CAL-1").last_bad[0] == "?!"
    assert hearing.changes - seen < 10
    assert desk.store().readings() == []


def test_a_change_of_shop_toml_is_followed(desk, hearing, folder):
    """An instrument that is named anew is listened to; one that is gone is not."""
    path = folder / "shop.toml"
    path.write_text(path.read_text().replace("instruments.CAL-1", "instruments.CAL-9"))

    until(lambda: hearing.standing("CAL-9") and hearing.standing("CAL-9").line == "open", "CAL-9")
    assert hearing.standing("CAL-1") is None


def test_an_instrument_that_cannot_be_heard_says_why(desk, folder):
    """Its profile does not exist; the others are heard all the same."""
    path = folder / "shop.toml"
    path.write_text(path.read_text() + '\n[instruments.CAL-3]\nprofile = "no-such"\nurl = "loop://"\n')
    with Hearing(desk) as hearing:
        standing = until(lambda: hearing.standing("CAL-3"), "CAL-3")
        assert standing.line == "unusable"
        assert "no-such" in standing.why
        until(lambda: hearing.standing("CAL-1"), "CAL-1")


def test_the_bell_wakes_whoever_listens_from_any_thread():
    """Set at a ring, not before; and nobody is left listening."""
    bell = Bell()

    async def listen():
        with bell.listening() as ring:
            assert not ring.is_set()
            await asyncio.to_thread(bell.ring)
            await asyncio.wait_for(ring.wait(), 2)
        return len(bell._listening)

    with ThreadPoolExecutor(1) as other:  # a browser of another test may have a loop running in this thread
        assert other.submit(lambda: asyncio.run(listen())).result() == 0
    bell.ring()
