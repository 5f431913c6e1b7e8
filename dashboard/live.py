"""The live line between server and browser: a ping, and a watcher that says when something was stored."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Mapping
from contextlib import suppress

from dash import Dash, Input, Output, State, ctx, no_update, set_props

from dashboard.bench.asked import part_at
from dashboard.desk import Desk
from dashboard.shell import HERE, POSITION

PROBE_EVERY_S = 2.0
PROBE_ASLEEP_EVERY_S = 30.0
GIVE_UP_AFTER_S = 3600.0


def register_live(app: Dash, desk: Desk) -> None:
    """Add the ping and the watcher to the app."""

    # Its sending opens the socket again after a long outage, when the browser has stopped trying.
    # And a tab that slept so long that its watcher was given up catches up here.
    @app.callback(
        Output("pong", "data"),
        Output(POSITION, "data"),
        Input("ping", "n_intervals"),
        State(POSITION, "data"),
        websocket=True,
    )
    async def ping(count: int | None, shown: dict[str, object] | None) -> tuple[int | None, object]:
        now = await asyncio.to_thread(desk.position)
        return count, no_update if now == shown else now

    # No input and no output: the browser starts it again by itself whenever the socket comes back.
    @app.callback(websocket=True, persistent=True)
    async def watch() -> None:
        socket, shown, probed = ctx.websocket, None, time.monotonic()
        address: str | None = None
        lookout = desk.lookout
        lookout.begin()
        with lookout.bell.listening() as ring:
            while not socket.is_shutdown:
                ring.clear()
                now = lookout.position
                stand = _stand(desk, now, address) if now else None
                if stand != shown:
                    set_props(POSITION, {"data": now})
                    shown = stand
                if time.monotonic() - probed > PROBE_EVERY_S:
                    before, address = address, await _address(socket)
                    if address is None and not await _comes_back(socket):
                        return
                    if address is None or address != before:
                        shown = None
                    probed = time.monotonic()
                with suppress(TimeoutError):
                    await asyncio.wait_for(ring.wait(), PROBE_EVERY_S)


def _stand(desk: Desk, now: Mapping[str, object], address: str | None) -> object:
    """What a tab at that address is to be told of: at a bench only what may change its own part's page."""
    part = part_at(address or "")
    return desk.stand(*part, now) if part else now


async def _address(socket: object) -> str | None:
    """Where the tab is; None where it is gone: tabs share one socket, which outlives the closed ones."""
    try:
        return str(await socket.get_prop(HERE, "href", timeout=1))  # type: ignore[attr-defined]
    except TimeoutError:
        return None


async def _comes_back(socket: object) -> bool:
    """Whether a tab that did not answer was only busy or asleep; asked more and more rarely."""
    since, wait = time.monotonic(), PROBE_EVERY_S
    while not socket.is_shutdown and time.monotonic() - since < GIVE_UP_AFTER_S:  # type: ignore[attr-defined]
        await asyncio.sleep(wait)
        wait = min(2 * wait, PROBE_ASLEEP_EVERY_S)
        if await _address(socket) is not None:
            return True
    return False
