"""Serves the dashboard of a shop's folder to this computer."""

from __future__ import annotations

import errno
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

from dashboard.errors import ServeError

LOOPBACK = "127.0.0.1"


def run(
    folder: Path,
    port: int = 8050,
    open_browser: bool = False,
    ready: Callable[[str], None] | None = None,
    press: Callable[[float], object] | None = None,
) -> None:
    """Serve until interrupted; `port` 0 takes a free one. `ready` is told the address once it answers.

    The shop's instruments that have a url are listened to all the while. `press` makes a make-believe caliper
    send a value in millimetres, and gives the Bench page a button for that.

    ServeError where the port is taken or not allowed.
    """
    with listen(port) as listener:
        import uvicorn

        from dashboard.app import make_app
        from dashboard.desk import Desk
        from dashboard.hearing import Hearing

        address = f"http://{LOOPBACK}:{listener.getsockname()[1]}/"
        desk = Desk(folder)
        desk.press = press
        desk.hearing = Hearing(desk)
        app = make_app(folder, desk=desk)
        config = uvicorn.Config(
            app.server,
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
            server.run(sockets=[listener])


def listen(port: int) -> socket.socket:
    """A socket listening on this computer only; ServeError says why not."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((LOOPBACK, port))
    except (OSError, OverflowError) as error:
        listener.close()
        raise ServeError(_why_not(port, error)) from error
    listener.listen(128)
    return listener


def _why_not(port: int, error: Exception) -> str:
    number = getattr(error, "errno", None)
    if number == errno.EADDRINUSE:
        return (
            f"port {port} is taken, perhaps by a dashboard already open at http://{LOOPBACK}:{port}/; "
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
