"""Origins and headers: what another site makes a browser send is refused, what goes out holds the browser."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor

import pytest

from dashboard.guard import SameOrigin, SecurityHeaders, door_policy, policy

HERE, FOREIGN = b"http://10.0.0.5:8050", b"http://shop.example"


def in_loop(coroutine):
    """Runs it in a thread of its own, for a browser of other tests may keep this one's loop."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, coroutine).result()


def answers(app, kind="http", method="POST", origin=None):
    """What the app sends to a request with that origin."""
    sent = []
    headers = [(b"host", b"10.0.0.5:8050")] + ([(b"origin", origin)] if origin is not None else [])
    scope = {"type": kind, "method": method, "path": "/", "headers": headers}

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message):
        sent.append(message)

    in_loop(app(scope, receive, send))
    return sent


async def inner(scope, receive, send):
    """An app that lets everything pass."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
    else:
        await send({"type": "http.response.start", "status": 200, "headers": []})


@pytest.mark.parametrize(
    ("strict", "method", "origin", "status"),
    [
        (False, "POST", HERE, 200), (True, "POST", HERE, 200),
        (False, "POST", FOREIGN, 403), (True, "POST", FOREIGN, 403),
        (False, "POST", None, 200), (True, "POST", None, 403),
        (False, "POST", b"null", 403), (True, "PUT", b"null", 403),
        (True, "POST", b"http://10.0.0.5:8051", 403), (True, "DELETE", b"", 403),
        (True, "GET", None, 200), (True, "GET", FOREIGN, 200),
    ],
)  # fmt: skip
def test_a_request_that_changes_something_comes_from_here(strict, method, origin, status):
    """Another site, another port and a hidden origin are refused; a strict guard wants one named."""
    assert answers(SameOrigin(inner, strict), method=method, origin=origin)[0]["status"] == status


@pytest.mark.parametrize("strict", [False, True])
@pytest.mark.parametrize(
    ("origin", "first"),
    [
        (HERE, "websocket.accept"),
        (FOREIGN, "websocket.close"),
        (None, "websocket.close"),
        (b"null", "websocket.close"),
    ],
)
def test_a_websocket_comes_from_here(strict, origin, first):
    """Closed before it is accepted otherwise, which the server answers with 403."""
    assert answers(SameOrigin(inner, strict), "websocket", origin=origin)[0]["type"] == first


def test_every_answer_carries_the_headers():
    """And the policy given."""
    headers = dict(answers(SecurityHeaders(inner, lambda: "default-src 'none'"))[0]["headers"])

    assert headers[b"content-security-policy"] == b"default-src 'none'"
    assert headers[b"x-content-type-options"] == b"nosniff"
    assert headers[b"x-frame-options"] == b"DENY"
    assert headers[b"referrer-policy"] == b"same-origin"
    assert headers[b"cross-origin-resource-policy"] == b"same-origin"


def test_the_inner_policy_stays_where_two_guards_stand_around_an_app():
    """Neither twice nor replaced."""
    app = SecurityHeaders(SecurityHeaders(inner, lambda: "inner"), lambda: "outer")

    names = [name for name, _ in answers(app)[0]["headers"]]
    assert dict(answers(app)[0]["headers"])[b"content-security-policy"] == b"inner"
    assert len(names) == len(set(names))


@pytest.mark.parametrize("text", [policy(["'sha256-x'"]), door_policy()])
def test_no_policy_names_another_site_or_lets_a_page_be_framed(text):
    """Only this server, data in the page, and scripts known by their hash."""
    rules = dict(rule.split(" ", 1) for rule in text.split("; "))

    assert rules["frame-ancestors"] == "'none'"
    assert rules["base-uri"] == "'none'"
    assert "unsafe" not in rules["script-src"]
    assert not [s for rule in rules.values() for s in rule.split() if s.startswith(("http", "ws", "*"))]
