"""A page is begun when its layout is asked for; what is stale, old or of another address is never shown."""

from __future__ import annotations

import asyncio
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from dash import html, no_update
from fastapi import FastAPI

from dashboard import ahead as module
from dashboard.ahead import LAYOUT, OPENED, Ahead, Begins
from dashboard.page import Page
from dashboard.shell import FIRST, ROUTED, _drawn, _layout_of, _place


def test_what_was_begun_is_taken_once():
    """Begun twice it is drawn once; the next who asks draws anew, and so does another address."""
    drawn = []
    made = Ahead(lambda path, query: drawn.append((path, dict(query))) or len(drawn))
    for _ in range(2):
        made.begin("/drift", {"part": "a"})

    while not drawn:
        time.sleep(0.001)
    assert made.take("/drift", {"part": "b"}) is None
    assert made.take("/drift", {"part": "a"}) == 1
    assert made.take("/drift", {"part": "a"}) is None
    assert drawn == [("/drift", {"part": "a"})]


def test_nobody_waits_for_a_page_in_the_queue():
    """Behind one that takes long, the page is left to whoever asks for it."""
    go_on = threading.Event()
    made = Ahead(lambda path, query: go_on.wait(5) and path)
    for path in ("/slow", "/quick"):
        made.begin(path, {})

    assert made.take("/quick", {}) is None
    go_on.set()
    assert made.take("/slow", {}) == "/slow"


def wait_for(waits):
    """Run a coroutine in a thread of its own: a browser of other tests may keep this one's loop."""
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, waits).result()


def test_a_page_that_takes_long_holds_up_no_header(monkeypatch):
    """It stays to be taken by whoever asks for it next."""
    monkeypatch.setattr(module, "PATIENCE_S", 0.01)
    go_on = threading.Event()
    made = Ahead(lambda path, query: go_on.wait(5) and path)
    wait_for(made.ready("/slow", {}))

    assert made.drawn("/slow", {}) is None
    go_on.set()
    assert made.take("/slow", {}) == "/slow"


def test_a_page_drawn_within_a_moment_is_waited_for():
    """So that header and page are shown at once."""
    made = Ahead(lambda path, query: time.sleep(0.05) or path)
    wait_for(made.ready("/quick", {}))

    assert made.drawn("/quick", {}) == "/quick"
    assert made.drawn("/quick", {}) is None


def test_the_layout_is_of_the_address_it_is_asked_from(full_desk):
    """Of this visitor's unit, kept by no cache, and its page is not drawn again by the router."""
    app = FastAPI()
    page = Page("p", "/p", "P", lambda desk, query: html.P(str(sorted(query.items()))))
    made = Ahead(lambda path, query: _drawn(page, full_desk, query))
    app.add_middleware(Begins, ready=made.ready)

    @app.get(LAYOUT)
    def whole():
        path, query = OPENED.get()
        return made.drawn(path, query)[1].children

    def ask(unit):
        told = {"type": "http", "method": "GET", "path": LAYOUT, "query_string": b"", "scheme": "http"}
        said = f"unit={unit}", "http://localhost/p?part=a"
        told["headers"] = [(b"cookie", said[0].encode()), (b"referer", said[1].encode())]
        sent = []

        async def send(message):
            sent.append(message)

        wait_for(app(told, None, send))
        return sent

    for unit in ("mm", "in"):
        start, body, *_ = ask(unit)
        assert (b"cache-control", b"no-store") in start["headers"]
        assert f"('part', 'a'), ('unit', '{unit}')" in body["body"].decode()

    query = {"part": "a", "unit": "in"}
    place = _place(page, query, _drawn(page, full_desk, query), full_desk)
    again = _layout_of(page, full_desk, made)
    told = {ROUTED: "in", FIRST: place["_pages_store"].data}
    assert again(part="a", **told) is no_update
    assert again(part="b", **told) is not no_update
    assert again(part="a", **told | {FIRST: {"title": "P"}}) is not no_update


def test_it_is_kept_a_moment_and_only_a_few(monkeypatch):
    """Whoever never comes for a page holds no memory."""
    monkeypatch.setattr(module, "MOST", 1)
    made = Ahead(lambda path, query: path)
    made.begin("/a", {})
    made.begin("/b", {})
    assert made.take("/b", {}) is None
    monkeypatch.setattr(module, "KEPT_S", 0.0)

    assert made.take("/a", {}) is None


def test_only_the_layout_of_an_address_begins_its_page():
    """Not what else a page is made of; each request is passed on."""
    begun, passed = [], []

    async def app(scope, receive, send):
        passed.append(scope["path"])

    async def ready(path, query):
        begun.append((path, query))

    headers = [(b"referer", b"http://localhost/drift?part=tail%20block"), (b"cookie", b"unit=in")]
    scope = {"type": "http", "path": LAYOUT, "headers": headers}
    for each in (scope, scope | {"path": "/drift"}, scope | {"type": "lifespan"}):
        wait_for(Begins(app, ready)(each, None, None))

    assert begun == [("/drift", {"part": "tail block", "unit": "in"})]
    assert passed == [LAYOUT, "/drift", LAYOUT]


@pytest.mark.parametrize("stored", [False, True])
def test_a_page_begun_before_something_was_stored_is_drawn_anew(full_desk, monkeypatch, stored):
    """The store is looked at again when the page is taken."""
    threads = []
    page = Page("p", "/p", "P", lambda desk, query: threads.append(threading.current_thread()) or html.P("x"))
    made = Ahead(lambda path, query: _drawn(page, full_desk, query))
    made.begin("/p", {"unit": ""})
    while not threads:
        time.sleep(0.001)
    if stored:
        monkeypatch.setattr(full_desk, "position", lambda: {"mark": "another"})
    _layout_of(page, full_desk, made)()

    assert (threading.current_thread() in threads) == stored
