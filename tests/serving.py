"""A dashboard served by a process of its own, and the browser that looks at it."""

from __future__ import annotations

import multiprocessing
import os
import signal
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from pathlib import Path

from dashboard.pages import PAGES

SERVE = "from dashboard.serve import run\nrun(folder, port, ready=lambda address: tell((address,)))"
FORKS = multiprocessing.get_context("forkserver")
FORKS.set_forkserver_preload(  # what a server imports: once for all of them, not a second for each
    ["dashboard.app", "dashboard.hearing", "dashboard.lan.network", "dashboard.serve", "qa.causes.likely",
     "qa.drift.look", "qa.gate.gluing", "dash.backends._fastapi", "flask", "pandas", "plotly.graph_objects",
     "scipy.optimize", "scipy.stats", "uvicorn.lifespan.on", "uvicorn.loops.auto",
     "uvicorn.protocols.http.auto", "uvicorn.protocols.websockets.auto",
     *(f"dashboard.pages.{name}" for name in PAGES)]
)  # fmt: skip
CHROMIUM = os.environ.get("DRYFIT_CHROMIUM", "/usr/bin/chromium")
KNOWN: set[int] = set()
"""Ports of servers that have gone: the browser still has the scripts that it was sent from there."""


@dataclass
class Served:
    """A dashboard being served by a process of its own, which told its address, and what else it tells."""

    folder: Path
    code: str
    port: int = 0
    told: tuple[str, ...] = ()
    process: BaseProcess | None = None

    @property
    def address(self) -> str:
        return self.told[0]

    def start(self) -> None:
        """At the same address, where it was served before, as after a restart of the computer."""
        ours, theirs = FORKS.Pipe(duplex=False)
        self.port = self.port or (KNOWN.pop() if KNOWN else 0)
        KNOWN.discard(self.port)
        given = {"folder": self.folder, "port": self.port, "tell": theirs.send}
        self.process = FORKS.Process(target=exec, args=(self.code, given), daemon=True)
        self.process.start()
        theirs.close()
        with ours:
            self.told = ours.recv()
        self.port = int(self.address.rstrip("/").rpartition(":")[2])

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """By Ctrl-C unless said."""
        os.kill(self.process.pid, how)
        self.process.join(10)
        assert self.process.exitcode is not None, "the dashboard did not stop"
        KNOWN.add(self.port)


def serve(folder: Path, code: str = SERVE) -> Served:
    """A shop's folder, by a process of its own; whoever asks for it stops it."""
    served = Served(folder, code)
    served.start()
    return served
