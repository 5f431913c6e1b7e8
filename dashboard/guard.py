"""Keeps other sites out: same origin only, and nothing on a page from anywhere but this server."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

READS = ("GET", "HEAD", "OPTIONS")


class SameOrigin:
    """Refuses a request that another site makes a browser send, unless it only reads."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] not in READS and _foreign(Headers(scope=scope)):
            await PlainTextResponse("refused: the request comes from another site", 403)(scope, receive, send)
            return
        await self.app(scope, receive, send)


class SecurityHeaders:
    """Adds the headers that hold a browser to this server."""

    def __init__(self, app: ASGIApp, policy: Callable[[], str]) -> None:
        self.app = app
        self.policy = policy
        self.headers = {
            "X-Content-Type-Options": "nosniff",
            "X-Frame-Options": "DENY",
            "Referrer-Policy": "no-referrer",
            "Cross-Origin-Opener-Policy": "same-origin",
            "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(self.headers | {"Content-Security-Policy": self.policy()})
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
    return "; ".join(f"{name} {' '.join(sources)}" for name, sources in allowed.items())


def _foreign(headers: Headers) -> bool:
    origin: Any = headers.get("origin")
    return origin is not None and urlsplit(origin).netloc != headers.get("host")
