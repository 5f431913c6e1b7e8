"""Makes the dashboard of a shop's folder."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from dash import Dash
from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

from dashboard.desk import Desk
from dashboard.guard import SameOrigin, SecurityHeaders, policy
from dashboard.live import register_live
from dashboard.pages import load_pages
from dashboard.shell import ROUTING, register_shell
from dashboard.together import serve_together

LOOPBACK = ("127.0.0.1", "localhost")
PRIMING = "priming.invalid"
INDEX = """<!DOCTYPE html>
<html lang="en">
  <head>
    {%metas%}
    <title>{%title%}</title>
    <script src="/assets/theme.js"></script>
    <link rel="preload" href="/_dash-layout" as="fetch" crossorigin>
    <link rel="preload" href="/_dash-dependencies" as="fetch" crossorigin>
    <link rel="icon" type="image/svg+xml" href="/assets/favicon.svg">
    {%css%}
    <link rel="stylesheet" href="PAGES.css">
  </head>
  <body>
    {%app_entry%}
    <footer>{%config%}{%scripts%}<script src="PAGES.js"></script>{%renderer%}</footer>
  </body>
</html>"""
SIGN_OUT = """<nav class="leave" aria-label="Session"><a href="/logout">Sign out</a></nav>
    """


def make_app(
    folder: Path, hosts: Sequence[str] = LOOPBACK, desk: Desk | None = None, sign_out: bool = False
) -> Dash:
    """The dashboard over a shop's folder, answering to those host names only. One app for one process.

    `desk` is one over that folder that somebody else listens for; else the app makes its own. `sign_out` puts
    a way to sign out below every page.
    """
    desk = desk or Desk(folder)
    pages = load_pages()
    server = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    app = Dash(
        "dashboard",
        server=server,
        backend="fastapi",
        use_pages=True,
        pages_folder="",
        routing_callback_inputs=ROUTING,
        title="Dryfit",
        update_title=None,
        index_string=_index(serve_together(server), sign_out),
        assets_ignore=r"\.(css|js)$",
        suppress_callback_exceptions=True,
        # Left to themselves these close a quiet feed for good, and hold back quick readings.
        websocket_inactivity_timeout=0,
        websocket_batch_delay=0,
    )
    register_shell(app, desk, pages)
    register_live(app, desk)
    scripts: list[str] = []
    app.server.add_middleware(GZipMiddleware, minimum_size=1000)
    app.server.add_middleware(SameOrigin)
    app.server.add_middleware(SecurityHeaders, policy=lambda: policy(scripts))
    app.server.add_middleware(TrustedHostMiddleware, allowed_hosts=[*hosts, PRIMING])
    _prime(app.server)
    scripts += app.csp_hashes()  # complete only now: the pages add theirs at the first request
    return app


def _index(addresses: Mapping[str, str], sign_out: bool) -> str:
    """The page around every page."""
    index = INDEX
    for ending, address in addresses.items():
        index = index.replace(f"PAGES.{ending}", address)
    return index.replace("<footer>", f"{SIGN_OUT}<footer>") if sign_out else index


def _prime(server: Any) -> None:
    """Ask for the first page once, in this process: a first request to any other page fails (dash 4.4)."""
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "GET",
        "scheme": "http",
        "path": "/",
        "raw_path": b"/",
        "query_string": b"",
        "root_path": "",
        "headers": [(b"host", PRIMING.encode())],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 80),
    }

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        pass

    with ThreadPoolExecutor(1) as thread:  # of its own, for a caller may have an event loop running
        thread.submit(lambda: asyncio.run(server(scope, receive, send))).result()
