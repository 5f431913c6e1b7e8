"""A page is begun when its address is opened; what is stale, old or of another address is never shown."""

from __future__ import annotations

import asyncio
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from dash import html

from dashboard import ahead as module
from dashboard.ahead import OPENING, Ahead, Begins
from dashboard.page import Page
from dashboard.shell import _drawn, _layout_of


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


def test_it_is_kept_a_moment_and_only_a_few(monkeypatch):
    """Whoever never comes for a page holds no memory."""
    monkeypatch.setattr(module, "MOST", 1)
    made = Ahead(lambda path, query: path)
    made.begin("/a", {})
    made.begin("/b", {})
    assert made.take("/b", {}) is None
    monkeypatch.setattr(module, "KEPT_S", 0.0)

    assert made.take("/a", {}) is None


def test_only_the_opening_of_an_address_begins_a_page():
    """Not what the page is made of, nor a program that asks; each request is passed on."""
    begun, passed = [], []

    async def app(scope, receive, send):
        passed.append(scope["path"])

    begins = Begins(app, lambda path, query: begun.append((path, query)))
    scope = {"type": "http", "path": "/drift", "query_string": b"part=tail%20block", "headers": [OPENING]}
    with ThreadPoolExecutor(1) as thread:  # a browser of other tests may keep this one's loop
        for each in (scope, scope | {"path": "/x.js", "headers": []}, scope | {"type": "lifespan"}):
            thread.submit(asyncio.run, begins(each, None, None)).result()

    assert begun == [("/drift", {"part": "tail block"})]
    assert passed == ["/drift", "/x.js", "/drift"]


@pytest.mark.parametrize("stored", [False, True])
def test_a_page_begun_before_something_was_stored_is_drawn_anew(full_desk, monkeypatch, stored):
    """The store is looked at again when the page is taken."""
    threads = []
    page = Page("p", "/p", "P", lambda desk, query: threads.append(threading.current_thread()) or html.P("x"))
    made = Ahead(lambda path, query: _drawn(page, full_desk, query))
    made.begin("/p", {"unit": ""})
    while not threads:
        time.sleep(0.001)
    while not threads:
        pass
    if stored:
        monkeypatch.setattr(full_desk, "position", lambda: {"mark": "another"})
    _layout_of(page, full_desk, made)()

    assert (threading.current_thread() in threads) == stored
