"""The Bench page while the store's database server is gone: it goes on, says so, and hands all over."""

from __future__ import annotations

import json
import time
from decimal import Decimal
from itertools import pairwise

import pytest

from dashboard.bench.route import Acts
from dashboard.desk import Desk
from dashboard.hearing import place_reading
from dashboard.pages import load_pages
from dashboard.pages.bench import PAGE
from drivers.reading import Reading
from qa.errors import ServerGone
from qa.store.store import open_store
from qa.store.verify import verify

HERE = {"build": "PG-01", "part": "tail-block", "by": "CAL-1"}
GONE = "the server cannot be reached; readings are kept here ({}) and handed over when it is back"


def text_of(desk, query) -> str:
    """The words of the Bench page."""
    shown = PAGE.content(desk, query).to_plotly_json()
    return json.dumps(shown, default=lambda item: item.to_plotly_json(), ensure_ascii=False)


@pytest.fixture
def url(server, folder, monkeypatch):
    """The address of an empty store on a server, as the small shop names it."""
    monkeypatch.setattr("qa.store.spool.TRY_AGAIN_S", 0.1)
    made = server.fresh()
    path = folder / "shop.toml"
    path.write_text(f'store = "{made}"\n{path.read_text()}')
    return made


@pytest.fixture
def desk(url, folder):
    """The desk of that shop; opened by its first use."""
    opened = Desk(folder)
    yield opened
    opened.close()


def type_in(desk, *lines):
    """Type readings on the page, each sent twice as by a browser that heard no answer."""
    acts = Acts(desk)
    for line in lines:
        asked = HERE | {"unit": "mm", "do": "type", "text": line, "token": f"token of {line}"}
        assert acts.do(asked)["kind"] == "stored"
        assert Acts(desk).do(asked)["kind"] == "stored"


def until(what):
    """Wait until something is true."""
    for _ in range(600):
        if what():
            return
        time.sleep(0.05)
    raise AssertionError("it never came true")


def until_back(desk):
    """Wait until what was kept is handed over."""
    until(lambda: not desk.bench_store().kept_here())


def test_the_page_is_started_while_the_server_is_gone(server, url, desk):
    """A part is chosen and read by the plan of the folder; typed and heard readings arrive once, in order."""
    server.stop()
    for query in ({}, {"build": "PG-01"}, HERE):
        assert GONE.format(0) in text_of(desk, query)
    assert "not measured" not in text_of(desk, {"build": "PG-01"})
    type_in(desk, "18.01", "18.02")
    Acts(desk).do(HERE | {"do": "choose"})
    place_reading(desk, "CAL-1", Reading(Decimal("18.03"), "mm", b"18.03"))
    type_in(desk, "18.04")
    text = text_of(desk, HERE)
    assert GONE.format(4) in text
    assert "4 of 5 places read" in text
    assert "PG-01" in text_of(desk, {})
    server.start()
    until_back(desk)
    assert GONE[:20] not in text_of(desk, HERE)
    type_in(desk, "0.05")
    with open_store(url) as store:
        assert [row.value for row in store.readings()] == [18.01, 18.02, 18.03, 18.04, 0.05]
        assert verify(store).whole


def test_the_page_loses_the_server_and_finds_it_again(server, url, desk, plan, reading):
    """Every reading kept here moves the page on, the return of the server, and what others store then."""
    type_in(desk, "18.01")
    seen = [desk.position()]
    server.stop()
    for value in ("18.02", "18.03"):
        type_in(desk, value)
        seen.append(desk.position())
    assert GONE.format(2) in text_of(desk, HERE)
    server.start()
    until_back(desk)
    seen.append(desk.position())
    assert all(before != after for before, after in pairwise(seen))
    assert [row.value for row in desk.store().readings()] == [18.01, 18.02, 18.03]
    with open_store(url) as another:
        another.append(reading(0), plan)
    until(lambda: desk.position() != seen[-1])


def test_no_other_page_answers_from_what_a_bench_remembers(server, desk):
    """A gate or a caliper is not judged by half a record: the page says that the server is gone."""
    type_in(desk, "18.01")
    server.stop()
    type_in(desk, "18.02")
    for page in load_pages():
        if page.name in ("build", "glueup", "decide", "drift", "calipers"):
            with pytest.raises(ServerGone, match="this needs the server"):
                page.content(desk, HERE)
