"""The door of a dashboard that is open to a network: who has not signed in sees nothing but the way in."""

from __future__ import annotations

import asyncio
import logging
import math
import re
import secrets
import time
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, quote

from starlette.datastructures import MutableHeaders
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.websockets import WebSocketClose

from dashboard.lan import pages as lan_pages
from dashboard.lan.tries import OneTimeLink, Tries

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from dashboard.lan.keep import Keep

DAY_S = 24 * 3600
SESSION_S = 14 * DAY_S
OPEN_FILES = frozenset(f"/assets/{name}" for name in ("bench.css", "lan.css", "theme.js", "favicon.svg"))
"""What the pages of the door need; everything else is behind it."""
MOST_BYTES = 4096
SLOWEST_S = 10.0
OVER = 4401
"""Close code of a WebSocket whose session is over."""
LOG = logging.getLogger(__name__)


class Door:
    """Passes on what belongs to a session, answers /login, /enter and /logout itself, refuses all else.

    Stands inside a SessionMiddleware. `clock` gives seconds since 1970.
    """

    def __init__(
        self,
        app: ASGIApp,
        keep: Keep,
        link: OneTimeLink,
        tries: Tries | None = None,
        clock: Callable[[], float] = time.time,
    ) -> None:
        self.app = app
        self.keep = keep
        self.link = link
        self.tries = tries or Tries()
        self.clock = clock
        self._one_at_a_time = asyncio.Lock()  # a hash takes 64 MB
        self._own: dict[tuple[str, str], Callable[[Request], Awaitable[Response]]] = {
            ("GET", "/login"): self._ask,
            ("POST", "/login"): self._sign_in,
            ("GET", "/enter"): self._ask_device,
            ("POST", "/enter"): self._let_device_in,
            ("GET", "/logout"): self._ask_leave,
            ("POST", "/logout"): self._sign_out,
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            await self._http(scope, receive, send)
        elif scope["type"] == "websocket":
            await self._websocket(scope, receive, send)
        else:
            await self.app(scope, receive, send)

    async def _http(self, scope: Scope, receive: Receive, send: Send) -> None:
        request = Request(scope, receive)
        if own := self._own.get((request.method, scope["path"])):
            await (await own(request))(scope, receive, _unstored(send))
        elif self._is_in(scope):
            await self.app(scope, receive, _unstored(send))
        elif request.method == "GET" and scope["path"] in OPEN_FILES:
            await self.app(scope, receive, send)
        else:
            await self._outside(request)(scope, receive, _unstored(send))

    async def _websocket(self, scope: Scope, receive: Receive, send: Send) -> None:
        if not self._is_in(scope):
            await WebSocketClose(reason="not signed in")(scope, receive, send)
            return

        over = {"code": OVER, "reason": "signed out"}

        async def receive_while_in() -> Message:
            message = await receive()
            if message["type"] == "websocket.receive" and not self._is_in(scope):
                await send({"type": "websocket.close", **over})
                return {"type": "websocket.disconnect", **over}
            return message

        async def send_while_in(message: Message) -> None:
            if message["type"] == "websocket.send" and not self._is_in(scope):
                await send({"type": "websocket.close", **over})
                raise OSError("signed out")  # what a server raises where the socket is closed
            await send(message)

        await self.app(scope, receive_while_in, send_while_in)

    def _is_in(self, scope: Scope) -> bool:
        session = scope["session"]
        name, until = session.get("id"), session.get("until", 0)
        return bool(name) and self.clock() < until and not self.keep.has_ended(name)

    def _outside(self, request: Request) -> Response:
        if request.method == "GET" and "text/html" in request.headers.get("accept", ""):
            raw = request.scope["raw_path"] + b"?" + request.scope["query_string"]
            return RedirectResponse(f"/login?next={quote(raw.rstrip(b'?'), safe='')}", 303)
        return PlainTextResponse("refused: not signed in", 403)

    async def _ask(self, request: Request) -> Response:
        then = _inside(request.query_params.get("next"))
        if self._is_in(request.scope):
            return RedirectResponse(then, 303)
        return HTMLResponse(lan_pages.sign_in(then))

    async def _sign_in(self, request: Request) -> Response:
        fields = await _fields(request)
        if fields is None:
            return PlainTextResponse("refused: too long or too slow", 413)
        then, address = _inside(fields.get("next")), _address(request)
        if wait := self.tries.take(address):
            seconds = math.ceil(wait)
            page = lan_pages.sign_in(
                then, f"Too many tries. Wait {lan_pages.a_while(seconds)}, then try again."
            )
            return HTMLResponse(page, 429, {"Retry-After": str(seconds)})
        async with self._one_at_a_time:
            good = await asyncio.to_thread(self.keep.matches, fields.get("passphrase", ""))
        if not good:
            LOG.warning("%s: a wrong passphrase was typed there", address)
            return HTMLResponse(lan_pages.sign_in(then, "That is not the passphrase."), 403)
        self.tries.forgive(address)
        return self._let_in(request, then)

    async def _ask_device(self, request: Request) -> Response:
        # A link is often opened by a preview first: only pressing the button uses it up.
        token = request.query_params.get("token", "")
        if not self.link.is_good(token):
            return HTMLResponse(lan_pages.link_is_over(), 403)
        return HTMLResponse(lan_pages.enter(token, SESSION_S // DAY_S))

    async def _let_device_in(self, request: Request) -> Response:
        fields = await _fields(request)
        if fields is None or not self.link.use(fields.get("token", "")):
            return HTMLResponse(lan_pages.link_is_over(), 403)
        LOG.warning("%s: let in by the one-time link", _address(request))
        return self._let_in(request, "/")

    def _let_in(self, request: Request, then: str) -> Response:
        request.session.clear()
        request.session.update(id=secrets.token_urlsafe(16), until=self.clock() + SESSION_S)
        return RedirectResponse(then, 303)

    async def _ask_leave(self, request: Request) -> Response:
        if not self._is_in(request.scope):
            return RedirectResponse("/login", 303)
        return HTMLResponse(lan_pages.sign_out())

    async def _sign_out(self, request: Request) -> Response:
        if self._is_in(request.scope):
            session = request.session
            await asyncio.to_thread(self.keep.end, session["id"], session["until"], self.clock())
            session.clear()
        return RedirectResponse("/login", 303)


async def _fields(request: Request) -> dict[str, str] | None:
    """The fields of a short form, None where it is long or slow to come."""
    body = b""
    try:
        async with asyncio.timeout(SLOWEST_S):
            async for piece in request.stream():
                body += piece
                if len(body) > MOST_BYTES:
                    return None
        found = parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=8)
    except (TimeoutError, ClientDisconnect, ValueError):
        return None
    return {name: values[0] for name, values in found.items()}


def _inside(path: str | None) -> str:
    """That path where it leads to a page of ours, else the first page."""
    return path if path and re.fullmatch(r"/(?!/)[!-\[\]-~]*", path) else "/"


def _address(request: Request) -> str:
    return request.client.host if request.client else "an unknown address"


def _unstored(send: Send) -> Send:
    """Keeps pages and values out of a device's cache; scripts and styles may stay there."""

    async def with_header(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers: Any = MutableHeaders(scope=message)
            if headers.get("content-type", "").startswith(("text/html", "text/plain", "application/json")):
                headers["cache-control"] = "no-store"
        await send(message)

    return with_header
