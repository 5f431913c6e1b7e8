"""A reading told to open pages the moment it is stored; the page drawn anew, with its verdict, follows.

By a socket of its own: what the library's socket brings is drawn only after all that waits there before it.
"""

from __future__ import annotations

import asyncio
import json
from contextlib import suppress
from typing import TYPE_CHECKING

from fastapi import WebSocket, WebSocketDisconnect

from dashboard.bench.panels import split, when
from dashboard.words import UNITS, amount, plain
from qa.store.spool_file import is_spooled

if TYPE_CHECKING:
    from dash import Dash

    from dashboard.bell import Bell
    from dashboard.desk import Desk
    from qa.record import BenchReading
    from qa.shop import Shop

ADDRESS = "/bench/feed"


def register_feed(app: Dash, desk: Desk) -> None:
    """Add the socket to the app: it sends each reading of one part as it is stored."""

    async def feed(socket: WebSocket, build: str, part: str) -> None:
        await socket.accept()
        sending = asyncio.create_task(_send_news(socket, desk.lookout.bell_of(build, part)))
        with suppress(WebSocketDisconnect):
            while True:
                await socket.receive_text()  # nothing is sent from there, so this ends when the page leaves
        sending.cancel()

    app.server.add_api_websocket_route(ADDRESS, feed)


async def _send_news(socket: WebSocket, bell: Bell) -> None:
    with bell.listening() as ring, suppress(WebSocketDisconnect):
        while True:
            await ring.wait()
            ring.clear()
            await socket.send_text(bell.news)


def is_news(row: BenchReading) -> bool:
    """Whether a page can show a row before it is drawn anew.

    Not one that takes another back; and not one kept until its server is back: there it gets another mark,
    and the page could not tell when what is drawn anew has come to it.
    """
    return row.millionths is not None and not is_spooled(row.sequence)


def told(row: BenchReading, shop: Shop) -> str:
    """What a page needs in order to show a stored reading, as JSON: its number in every unit of length."""
    return json.dumps(
        {
            "build": row.build,
            "part": row.part,
            "mark": row.sequence,
            "what": plain(f"{row.characteristic} {row.station}".strip()),
            "when": when(row, shop),
            "number": {unit: split(amount(row.value, row.unit, unit)) for unit in UNITS},
        }
    )
