"""Begins to draw a page as soon as it is asked for, while the browser still reads the scripts for it."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextvars import ContextVar
from typing import TYPE_CHECKING, Generic, TypeVar
from urllib.parse import parse_qsl, urlsplit

from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

KEPT_S = 10.0
PATIENCE_S = 0.3
"""How long the header waits for the page below it, so that both are shown at once."""
MOST = 8
OPENING = (b"sec-fetch-dest", b"document")
"""What a browser says when it opens an address, and not when it fetches what a page is made of."""
LAYOUT = "/_dash-layout"
"""Where a page, once its scripts are there, asks for what it is to show."""
UNIT_COOKIE = "unit"
Opened = tuple[str, dict[str, str]]
"""A path, and what is asked of it: its query, and the unit this browser shows lengths in, "" where none."""
OPENED: ContextVar[Opened] = ContextVar("opened")
"""Where the browser is that asks for the layout."""
Drawn = TypeVar("Drawn")
Asked = tuple[str, tuple[tuple[str, str], ...]]


class Ahead(Generic[Drawn]):
    """What was begun for an address, each to be taken once and soon.

    `draw` gets the path and what the address asks for.
    """

    def __init__(self, draw: Callable[[str, Mapping[str, str]], Drawn]) -> None:
        self._draw = draw
        self._lock = threading.Lock()
        self._begun: dict[Asked, tuple[float, Future[Drawn]]] = {}
        self._threads = ThreadPoolExecutor(1, "draws ahead")

    def begin(self, path: str, query: Mapping[str, str]) -> None:
        """Draw it in another thread, unless that is under way."""
        with self._lock:
            now = time.monotonic()
            self._begun = {key: item for key, item in self._begun.items() if now - item[0] < KEPT_S}
            if _asked(path, query) not in self._begun and len(self._begun) < MOST:
                self._begun[_asked(path, query)] = (now, self._threads.submit(self._draw, path, query))

    def soon(self, path: str, query: Mapping[str, str]) -> Drawn | None:
        """The same where it is drawn within a moment; else it stays, to be taken."""
        with self._lock:
            _, begun = self._begun.get(_asked(path, query), (0.0, None))
        return self.take(path, query) if begun and wait([begun], PATIENCE_S).done else None

    def take(self, path: str, query: Mapping[str, str]) -> Drawn | None:
        """What was begun for that, once it is drawn; None where nothing was, too long ago or not yet."""
        with self._lock:
            at, begun = self._begun.pop(_asked(path, query), (0.0, None))
        if begun is None or begun.cancel() or time.monotonic() - at >= KEPT_S:
            return None
        return begun.result()


class Begins:
    """Begins whatever page a browser is about to show, knows it again, and passes each request on."""

    def __init__(self, app: ASGIApp, begin: Callable[[str, Mapping[str, str]], None]) -> None:
        self.app, self.begin = app, begin

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and OPENING in scope["headers"]:
            self.begin(*opened(scope, scope["path"], scope["query_string"].decode("latin-1")))
        if scope["type"] != "http" or scope["path"] != LAYOUT:
            await self.app(scope, receive, send)
            return
        _, _, path, query, _ = urlsplit(HTTPConnection(scope).headers.get("referer", ""))
        OPENED.set(opened(scope, path, query))

        async def never_kept(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message)["Cache-Control"] = "no-store"
            await send(message)

        await self.app(scope, receive, never_kept)


def opened(scope: Scope, path: str, query: str) -> Opened:
    """What is opened at an address by who sends that request."""
    return path, {**dict(parse_qsl(query)), "unit": HTTPConnection(scope).cookies.get(UNIT_COOKIE, "")}


def _asked(path: str, query: Mapping[str, str]) -> Asked:
    return path, tuple(sorted(query.items()))
