"""A real server in its own process for each sort of shop, and a browser that is already installed."""

from __future__ import annotations

import importlib.util
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import pytest
from playwright.sync_api import expect

SERVE = """
import sys
from pathlib import Path
from dashboard.serve import run
run(Path(sys.argv[1]), int(sys.argv[2]), ready=lambda address: print(address, flush=True))
"""
CHROMIUM = os.environ.get("DRYFIT_CHROMIUM", "/usr/bin/chromium")
ARTEFACTS = Path(__file__).parents[1] / "artefacts"


def pytest_configure(config: pytest.Config) -> None:
    """Lets pass what pytest-base-url, which the browser plugin brings, does in a way pytest 9 deprecates."""
    told = "ignore:Session-scoped fixtures defined as instance methods:pytest.PytestRemovedIn10Warning"
    config.addinivalue_line("filterwarnings", told)


@dataclass
class Served:
    """A dashboard being served: its address, and the folder it is drawn from."""

    folder: Path
    address: str
    process: subprocess.Popen[str]

    def stop(self) -> None:
        self.process.send_signal(signal.SIGINT)
        self.process.communicate(timeout=10)

    def start_again(self) -> None:
        """At the same address, as a person would after a restart of the computer."""
        port = int(self.address.rstrip("/").rpartition(":")[2])
        self.process = serve(self.folder, port).process


def serve(folder: Path, port: int = 0) -> Served:
    process = subprocess.Popen(
        [sys.executable, "-c", SERVE, str(folder), str(port)], stdout=subprocess.PIPE, text=True
    )
    address = process.stdout.readline().strip()
    assert address.startswith("http://127.0.0.1:"), "the dashboard did not start"
    return Served(folder, address, process)


@pytest.fixture(scope="session")
def serve_shop():
    """Serves a shop's folder by a process of its own; whoever asks for it stops it."""
    return serve


@pytest.fixture(scope="session")
def shops() -> ModuleType:
    """The module that makes invented shops."""
    path = Path(__file__).parents[1] / "dashboard" / "invented_shop.py"
    spec = importlib.util.spec_from_file_location("invented_shop", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def full(shops, tmp_path_factory) -> Iterator[Served]:
    """Served: seven builds of two models. Tests must not store in it."""
    served = serve(shops.full_shop(tmp_path_factory.mktemp("full") / "shop"))
    yield served
    served.stop()


@pytest.fixture(scope="session")
def empty(shops, tmp_path_factory) -> Iterator[Served]:
    """Served: plans and no reading. Tests must not store in it."""
    served = serve(shops.empty_shop(tmp_path_factory.mktemp("empty") / "shop"))
    yield served
    served.stop()


@pytest.fixture
def own(shops, tmp_path) -> Iterator[Served]:
    """Served: a full shop of the test's own, to store in and to stop."""
    served = serve(shops.full_shop(tmp_path / "shop"))
    yield served
    served.stop()


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    """The browser of this computer, kept from talking to anyone but the page's server."""
    return {
        **browser_type_launch_args,
        "executable_path": CHROMIUM,
        "args": ["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
    }


@pytest.fixture
def heard(page) -> list[str]:
    """What the page says to the console and asks of other servers; it should stay empty."""
    said: list[str] = []
    page.on("console", lambda m: said.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on(
        "request",
        lambda r: said.append(r.url) if "//127.0.0.1:" not in r.url and r.url[:5] != "data:" else None,
    )
    return said


@pytest.fixture
def visit(page):
    """Opens an address and waits until all of it is drawn."""

    def go(address: str) -> None:
        page.goto(address)
        expect(page.locator("h1")).to_be_visible()
        if page.locator(".chart").count():
            expect(page.locator(".js-plotly-plot .point").first).to_be_visible()

    return go


@pytest.fixture
def picture(page):
    """Keeps a picture of the page, to be looked at."""

    def take(name: str, **options) -> None:
        ARTEFACTS.mkdir(exist_ok=True)
        page.screenshot(path=ARTEFACTS / f"{name}.png", **options)

    return take
