"""Serves the dashboard of a shop's folder to this computer, and to the local network where that is wanted."""

from __future__ import annotations

import errno
import socket
import threading
import webbrowser
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.errors import ServeError

if TYPE_CHECKING:
    from dashboard.lan.network import Lan

LOOPBACK = "127.0.0.1"


def run(
    folder: Path,
    port: int = 8050,
    open_browser: bool = False,
    ready: Callable[[str], None] | None = None,
    press: Callable[[float], object] | None = None,
    lan: Lan | None = None,
) -> None:
    """Serve until interrupted; `port` 0 takes a free one. `ready` is told the address once it answers.

    Only to this computer; with `lan` at its addresses too, and then only to those who sign in.

    The shop's instruments that have a url are listened to all the while. `press` makes a make-believe caliper
    send a value in millimetres, and gives the Bench page a button for that.

    ServeError where the port is taken or not allowed.
    """
    with ExitStack() as stack:
        listeners = [stack.enter_context(listen(port))]
        port = listeners[0].getsockname()[1]
        listeners += [stack.enter_context(listen(port, host)) for host in (lan.addresses if lan else ())]
        import uvicorn

        from dashboard.app import LOOPBACK as LOOPBACK_HOSTS
        from dashboard.app import make_app
        from dashboard.desk import Desk
        from dashboard.hearing import Hearing
        from dashboard.lan.network import guarded

        address = f"http://{LOOPBACK}:{port}/"
        desk = Desk(folder)
        desk.press = press
        desk.hearing = Hearing(desk)
        app = make_app(folder, lan.hosts if lan else LOOPBACK_HOSTS, desk, sign_out=lan is not None)
        config = uvicorn.Config(
            guarded(app.server, lan, port) if lan else app.server,
            proxy_headers=bool(lan and lan.proxy_name),
            forwarded_allow_ips=LOOPBACK,
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=2,
            ws="auto",
        )
        server = uvicorn.Server(config)
        threading.Thread(
            target=_tell, args=(server, address, open_browser, ready), daemon=True, name="tell-address"
        ).start()
        with desk.hearing:
            server.run(sockets=listeners)


def listen(port: int, host: str = LOOPBACK) -> socket.socket:
    """A socket listening at one address of this computer, loopback unless said; ServeError says why not."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except (OSError, OverflowError) as error:
        listener.close()
        raise ServeError(_why_not(port, host, error)) from error
    listener.listen(128)
    return listener


def _why_not(port: int, host: str, error: Exception) -> str:
    number = getattr(error, "errno", None)
    if number == errno.EADDRINUSE:
        return (
            f"port {port} is taken, perhaps by a dashboard already open at http://{host}:{port}/; "
            f"close it, or choose another: --port {port + 1}"
        )
    if number == errno.EACCES:
        return f"port {port} is kept for the system; choose one from 1024 to 65535: --port 8050"
    return f"port {port} cannot be used ({error}); choose one from 1024 to 65535: --port 8050"


def _tell(server: object, address: str, open_browser: bool, ready: Callable[[str], None] | None) -> None:
    import time

    while not getattr(server, "started", False):
        if getattr(server, "should_exit", False):
            return
        time.sleep(0.02)
    if ready:
        ready(address)
    if open_browser:
        webbrowser.open(address)
