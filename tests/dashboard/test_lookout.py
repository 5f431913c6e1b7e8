"""What has come is looked for once for all pages, and each open bench is told of its own part alone."""

from __future__ import annotations

import json
import time

import pytest

from dashboard.desk import Desk
from qa.bench.acts import open_bench, press, take_typed
from qa.bench.at_bench import Chosen
from qa.store.store import open_store

PATIENCE = 8.0


@pytest.fixture
def desk(shops, tmp_path):
    """A desk over a shop where nothing was read; another program stores in it beside."""
    made = Desk(shops.empty_shop(tmp_path / "shop"))
    yield made
    made.close()


@pytest.fixture
def elsewhere(desk):
    """Reads a part of TG-9 in another store over the same file."""
    shop = desk.shop()
    with open_store(shop.store_url) as store:
        yield lambda part: open_bench(shop, store, Chosen("", "TG-9", part, "travel-guitar"))


def test_a_bench_is_told_of_its_own_part_by_whomever_it_was_read(desk, elsewhere):
    """The newest reading; nothing of another part, and nothing where one is taken back."""
    bell = desk.lookout.bell_of("TG-9", "brace")
    desk.lookout.look()
    brace, block = elsewhere("brace"), elsewhere("tail-block")

    for bench, text in ((brace, "8.01"), (brace, "8.02"), (block, "22.03")):
        take_typed(bench, text, "mm", token=text)
    desk.lookout.look()
    told = json.loads(bell.news)
    assert (told["part"], told["number"]["mm"]) == ("brace", ["8.02", "mm"])
    assert told["mark"] == bell.mark == brace.rows()[-1].sequence

    press(brace, "u", "mm")
    desk.lookout.look()
    assert json.loads(bell.news) == told


def test_the_pages_hear_of_what_another_program_stores(desk, shops):
    """Rung once begun, with a new position; a part's stand moves only for its own readings."""
    desk.lookout.begin()
    desk.lookout.begin()
    end = time.monotonic() + PATIENCE
    while not desk.lookout.position:
        assert time.monotonic() < end
        time.sleep(0.01)
    before = desk.lookout.position
    brace, block = (desk.stand("TG-9", part, before) for part in ("brace", "tail-block"))

    shops.read(desk.folder, "TG-9", "travel-guitar", "brace", "width", "middle", 8.1, 22)
    while desk.lookout.position == before:
        assert time.monotonic() < end
        time.sleep(0.01)

    assert desk.stand("TG-9", "brace", desk.lookout.position) != brace
    assert desk.stand("TG-9", "tail-block", desk.lookout.position) == block


def test_nobody_keeps_the_bell_of_a_page_that_was_left(desk):
    """The same bell while it is held, and none after."""
    bell = desk.lookout.bell_of("TG-9", "brace")
    assert desk.lookout.bell_of("TG-9", "brace") is bell
    del bell
    assert len(desk.lookout._bells) == 0
