"""Draws a page while the browser still reads the scripts for it, and sends it with the layout.

The page's head names the layout as a thing it will need, so that a browser asks for it before any script.
"""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Awaitable, Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextvars import ContextVar
from typing import TYPE_CHECKING, Generic, TypeVar
from urllib.parse import parse_qsl, urlsplit

from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

KEPT_S = 10.0
PATIENCE_S = 1.0
"""How long the layout waits for its page, so that both are shown at once; the scripts take half of that."""
MOST = 8
LAYOUT = "/_dash-layout"
"""Where a page asks for what it is to show."""
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

    def begin(self, path: str, query: Mapping[str, str]) -> Future[Drawn] | None:
        """Draw it in another thread, unless that is under way; None where too many are."""
        asked = _asked(path, query)
        with self._lock:
            now = time.monotonic()
            self._begun = {key: item for key, item in self._begun.items() if now - item[0] < KEPT_S}
            if asked not in self._begun and len(self._begun) < MOST:
                self._begun[asked] = (now, self._threads.submit(self._draw, path, query))
            return self._begun[asked][1] if asked in self._begun else None

    async def ready(self, path: str, query: Mapping[str, str]) -> None:
        """Begin it, and wait a moment until it is drawn."""
        begun = self.begin(path, query)
        if begun is not None:
            await asyncio.to_thread(wait, [begun], PATIENCE_S)

    def drawn(self, path: str, query: Mapping[str, str]) -> Drawn | None:
        """As `take`, for whoever does not wait: what is not drawn yet stays, to be taken."""
        with self._lock:
            _, begun = self._begun.get(_asked(path, query), (0.0, None))
        return self.take(path, query) if begun and begun.done() else None

    def take(self, path: str, query: Mapping[str, str]) -> Drawn | None:
        """What was begun for that, once it is drawn; None where nothing was, too long ago or not yet."""
        with self._lock:
            at, begun = self._begun.pop(_asked(path, query), (0.0, None))
        if begun is None or begun.cancel() or time.monotonic() - at >= KEPT_S:
            return None
        return begun.result()


class Begins:
    """Has the page ready that a browser asks the layout for, and passes each request on."""

    def __init__(self, app: ASGIApp, ready: Callable[[str, Mapping[str, str]], Awaitable[None]]) -> None:
        self.app, self.ready = app, ready

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"] != LAYOUT:
            await self.app(scope, receive, send)
            return
        _, _, path, query, _ = urlsplit(HTTPConnection(scope).headers.get("referer", ""))
        OPENED.set(opened(scope, path, query))
        await self.ready(*OPENED.get())

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
