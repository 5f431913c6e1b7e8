"""Keeps other sites out: same origin only, and nothing on a page from anywhere but this server."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocketClose

READS = ("GET", "HEAD", "OPTIONS")


class SameOrigin:
    """Refuses what another site makes a browser send, unless it only reads: requests, and every WebSocket.

    A `strict` one refuses a request that does not say where it comes from, too; WebSockets always must.
    """

    def __init__(self, app: ASGIApp, strict: bool = False) -> None:
        self.app = app
        self.strict = strict

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] not in READS and _foreign(scope, self.strict):
            await PlainTextResponse("refused: the request comes from another site", 403)(scope, receive, send)
        elif scope["type"] == "websocket" and _foreign(scope, strict=True):
            await WebSocketClose(reason="comes from another site")(scope, receive, send)
        else:
            await self.app(scope, receive, send)


class SecurityHeaders:
    """Adds the headers that hold a browser to this server; a content policy that is already there stays."""

    def __init__(self, app: ASGIApp, policy: Callable[[], str]) -> None:
        self.app = app
        self.policy = policy
        self.headers = {
            "X-Content-Type-Options": "nosniff",
            "X-Frame-Options": "DENY",
            "Referrer-Policy": "same-origin",  # none at all would make a form's Origin "null"
            "Cross-Origin-Opener-Policy": "same-origin",
            "Cross-Origin-Resource-Policy": "same-origin",
            "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(self.headers)
                headers.setdefault("Content-Security-Policy", self.policy())
            await send(message)

        await self.app(scope, receive, with_headers)


def policy(script_hashes: Sequence[str]) -> str:
    """The content policy: all from this server; styles also inline, as the chart library writes them."""
    allowed: dict[str, Sequence[str]] = {
        "default-src": ["'self'"],
        "script-src": ["'self'", *script_hashes],
        "style-src": ["'self'", "'unsafe-inline'"],
        "img-src": ["'self'", "data:", "blob:"],
        "connect-src": ["'self'"],
        "worker-src": ["'self'"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "form-action": ["'none'"],
        "frame-ancestors": ["'none'"],
    }
    return _written(allowed)


def door_policy() -> str:
    """The content policy of the pages to sign in: their styles, one script, and forms sent to this server."""
    allowed: dict[str, Sequence[str]] = {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
    }
    return _written(allowed)


def _written(allowed: Mapping[str, Sequence[str]]) -> str:
    return "; ".join(f"{name} {' '.join(sources)}" for name, sources in allowed.items())


def _foreign(scope: Scope, strict: bool) -> bool:
    headers = Headers(scope=scope)
    origin = headers.get("origin")
    if origin is None:
        return strict
    return urlsplit(origin).netloc != headers.get("host")
