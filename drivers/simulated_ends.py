"""The instrument's end of a line that needs no hardware: a pseudo-terminal or a TCP port."""

from __future__ import annotations

import contextlib
import os
import pty
import select
import shutil
import socket
import tempfile
import time
import tty
from pathlib import Path
from typing import Protocol

from drivers.errors import LineError

_PATIENCE = 5.0


class End(Protocol):
    """What a make-believe instrument needs of its line."""

    url: str

    def plug(self) -> None:
        """Make the line be there."""

    def unplug(self) -> None:
        """Make the line vanish; the program on it sees it go."""

    def write(self, data: bytes) -> None:
        """Send bytes; LineError where nobody takes them."""

    def read(self, timeout: float) -> bytes:
        """Bytes that were sent to the instrument, waiting up to `timeout` seconds."""

    def close(self) -> None:
        """Unplug for good."""


class PtyEnd:
    """A pseudo-terminal behind a name that stays the same when it is unplugged and plugged in again."""

    def __init__(self, link: Path | None = None) -> None:
        self._folder = None if link else Path(tempfile.mkdtemp(prefix="dryfit-"))
        self._link = link or Path(self._folder or "") / "caliper"
        self.url = str(self._link)
        self._ends: tuple[int, int] | None = None

    def plug(self) -> None:
        if self._ends is not None:
            return
        master, slave = pty.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        self._ends = master, slave
        fresh = self._link.with_name(self._link.name + ".new")
        fresh.unlink(missing_ok=True)
        fresh.symlink_to(os.ttyname(slave))
        fresh.replace(self._link)

    def unplug(self) -> None:
        ends, self._ends = self._ends, None
        if ends is not None:
            self._link.unlink(missing_ok=True)
            for end in reversed(ends):
                os.close(end)

    def close(self) -> None:
        """Unplug, and take the folder of the name away."""
        self.unplug()
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)

    def write(self, data: bytes) -> None:
        until = time.monotonic() + _PATIENCE
        while data:
            if self._ends is None:
                raise LineError("the make-believe instrument is unplugged")
            _, ready, _ = select.select([], [self._ends[0]], [], max(0.0, until - time.monotonic()))
            if not ready:
                raise LineError("nobody reads the make-believe instrument, and its line is full")
            with contextlib.suppress(BlockingIOError):
                data = data[os.write(self._ends[0], data) :]

    def read(self, timeout: float) -> bytes:
        if self._ends is None:
            return b""
        ready, _, _ = select.select([self._ends[0]], [], [], timeout)
        return os.read(self._ends[0], 4096) if ready else b""


class TcpEnd:
    """A TCP port of this computer, for one program at a time; it keeps its number when plugged in again."""

    def __init__(self) -> None:
        self._server: socket.socket | None = None
        self._client: socket.socket | None = None
        self._port = 0
        self.url = ""

    def plug(self) -> None:
        if self._server is not None:
            return
        self._server = socket.create_server(("127.0.0.1", self._port))
        self._port = self._server.getsockname()[1]
        self.url = f"socket://127.0.0.1:{self._port}"

    def unplug(self) -> None:
        ends = (self._client, self._server)
        self._client = self._server = None
        for end in ends:
            if end is not None:
                end.close()

    def close(self) -> None:
        """Unplug."""
        self.unplug()

    def write(self, data: bytes) -> None:
        until = time.monotonic() + _PATIENCE
        while self._client is None and time.monotonic() < until:
            time.sleep(0.005)
        if self._client is None:
            raise LineError("nobody is connected to the make-believe instrument")
        try:
            self._client.sendall(data)
        except OSError as error:
            raise LineError("the program went away from the make-believe instrument") from error

    def read(self, timeout: float) -> bytes:
        server, client = self._server, self._client
        try:
            ready, _, _ = select.select([end for end in (server, client) if end is not None], [], [], timeout)
            if server in ready and server is not None:
                self._accept(server)
            if client is None or client not in ready:
                return b""
            data = client.recv(4096)
        except (OSError, ValueError):
            return b""
        if not data and client is self._client:
            self._client = None
            client.close()
        return data

    def _accept(self, server: socket.socket) -> None:
        newcomer, _ = server.accept()
        newcomer.settimeout(_PATIENCE)
        newcomer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        before, self._client = self._client, newcomer
        if before is not None:
            before.close()
