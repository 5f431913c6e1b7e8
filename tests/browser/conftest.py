"""A real server in its own process for each sort of shop, and a browser that is already installed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.dashboard import invented_shop
from tests.serving import CHROMIUM, Served, serve

OFF = (  # what the driver leaves out itself, for one such switch takes the place of another, ...
    "AimEnabled", "AvoidUnnecessaryBeforeUnloadCheckSync", "DestroyProfileOnBrowserClose",
    "HttpsFirstBalancedModeAutoEnable", "HttpsUpgrades", "LensOverlay", "MediaRouter",
    "NetworkTimeServiceQuerying", "OptimizationHints", "PaintHolding", "PreconnectToSearch",
    "ThirdPartyStoragePartitioning",
    # ... and two pages under the address bar, which cost more than any page of ours that is opened
    "WebUIOmniboxAimPopup", "WebUIOmniboxPopup",
)  # fmt: skip
ARTEFACTS = Path(__file__).parents[1] / "artefacts"


def pytest_configure(config: pytest.Config) -> None:
    """Lets pass what pytest-base-url, which the browser plugin brings, does in a way pytest 9 deprecates."""
    told = "ignore:Session-scoped fixtures defined as instance methods:pytest.PytestRemovedIn10Warning"
    config.addinivalue_line("filterwarnings", told)


@pytest.fixture(scope="session")
def serve_shop():
    """Serves a shop's folder by a process of its own; whoever asks for it stops it."""
    return serve


@pytest.fixture(scope="session")
def shops() -> ModuleType:
    """The module that makes invented shops."""
    return invented_shop


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
        "args": [
            "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--process-per-site",
            f"--disable-features={','.join(OFF)}",
        ],
    }  # fmt: skip


@pytest.fixture(scope="session")
def kept_context(browser, full) -> Iterator[BrowserContext]:
    """One context of the browser for all tests, in it a page that is never shut.

    So long as one page of a site is open, its process lives, and has the pages' scripts compiled.
    """
    made = browser.new_context()
    made.new_page().goto(f"{full.address}assets/shell.js")
    yield made
    made.close()


@pytest.fixture
def context(kept_context) -> Iterator[BrowserContext]:
    """That context, with no other page open and no cookie."""
    yield kept_context
    for page in kept_context.pages[1:]:
        page.close()
    kept_context.clear_cookies()


@pytest.fixture
def page(context) -> Page:
    """A page of a browser that remembers nothing of the tests before."""
    made = context.new_page()
    line = context.new_cdp_session(made)
    line.send("Storage.clearDataForOrigin", {"origin": "*", "storageTypes": "local_storage"})
    line.detach()
    return made


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
def schemes(page):
    """Shows the page by day, then in the dark, as the button for it does; gives the name of each."""

    def each() -> Iterator[str]:
        page.emulate_media(reduced_motion="reduce")  # no colour on its way from one to the other
        for scheme in ("light", "dark"):
            page.evaluate(f"document.documentElement.setAttribute('data-mantine-color-scheme', '{scheme}')")
            yield scheme

    return each


@pytest.fixture
def broken_rules(page):
    """What the page breaks of the rules of axe-core, the part of WCAG 2.2 that a program can check."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe-playwright-python")

    def found() -> list[str]:
        rules = axe.Axe().run(page).response["violations"]
        return [f"{rule['id']}: {rule['help']}: {rule['nodes'][0]['html']}" for rule in rules]

    return found


@pytest.fixture
def picture(page):
    """Keeps a picture of the page, to be looked at."""

    def take(name: str, **options) -> None:
        ARTEFACTS.mkdir(exist_ok=True)
        page.screenshot(path=ARTEFACTS / f"{name}.png", **options)

    return take
