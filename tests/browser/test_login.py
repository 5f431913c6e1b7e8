"""Signing in to a dashboard that is open to the network, in a real browser and against the real server."""

from __future__ import annotations

import re
import socket
import threading
import urllib.error
import urllib.request
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import expect

from dashboard.lan.keep import make_keep

PHRASE = "walnut spruce ebony"
SERVE = """
from dashboard.lan.network import Lan
from dashboard.lan.keep import load_keep
from dashboard.lan.tries import OneTimeLink
from dashboard.serve import run
link = OneTimeLink()
run(folder, port, ready=lambda address: tell((address, link.new())), lan=Lan(load_keep(folder), link))
"""


@pytest.fixture
def other_site(tmp_path) -> Iterator[str]:
    """The address of another server on this computer, with an empty page."""
    (tmp_path / "site").mkdir()
    handler = partial(SimpleHTTPRequestHandler, directory=tmp_path / "site")
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever).start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()


@pytest.fixture
def opened(shops, serve_shop, tmp_path):
    """Served behind its door: a full shop of the test's own; it tells its address and a one-time token."""
    folder = shops.full_shop(tmp_path / "shop")
    make_keep(folder, PHRASE)
    made = serve_shop(folder, SERVE)
    yield made
    made.stop()


def sign_in(page, passphrase=PHRASE):
    page.get_by_label("Passphrase").fill(passphrase)
    page.get_by_role("button", name="Sign in").click()


def upgrade(opened, *headers: str) -> bytes:
    """The first line of what the server answers to a browser that wants a WebSocket."""
    with socket.create_connection(("127.0.0.1", opened.port), timeout=5) as line:
        asked = [
            "GET /_dash-ws-callback HTTP/1.1",
            f"Host: 127.0.0.1:{opened.port}",
            "Connection: Upgrade",
            "Upgrade: websocket",
            "Sec-WebSocket-Version: 13",
            "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==",
            *headers,
        ]
        line.sendall("\r\n".join([*asked, "", ""]).encode())
        return line.recv(4096).split(b"\r\n")[0]


def status(address: str, data: bytes | None = None, **headers: str) -> int:
    class Stay(urllib.request.HTTPRedirectHandler):
        def redirect_request(self, *about):
            return None

    named = {name.replace("_", "-"): value for name, value in headers.items()}
    request = urllib.request.Request(address, data, named)  # noqa: S310 - our own server
    try:
        with urllib.request.build_opener(Stay).open(request, timeout=5) as answer:
            return answer.status
    except urllib.error.HTTPError as error:
        with error:
            return error.code


def test_the_right_passphrase_opens_the_page_asked_for(page, opened, heard, shops):
    """And it is alive: what is stored appears by itself, so the WebSocket is let in too."""
    page.goto(f"{opened.address}drift?part=brace")
    expect(page).to_have_title("Sign in · Dryfit")
    expect(page.get_by_label("Passphrase")).to_be_focused()
    sign_in(page)

    expect(page).to_have_url(f"{opened.address}drift?part=brace")
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    page.goto(opened.address)
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()
    shops.read(opened.folder, "TG-7", "travel-guitar", "brace", "width", "middle", 8.0, 30)
    expect(page.get_by_role("rowheader", name="TG-7").first).to_be_visible(timeout=3000)
    assert heard == []


def test_a_wrong_passphrase_is_said_and_the_right_one_still_works(page, opened):
    """What is wrong stands with the field, and the page asked for is remembered."""
    page.goto(f"{opened.address}build/TG-6")
    sign_in(page, "oak oak oak")

    expect(page.get_by_role("alert")).to_have_text("That is not the passphrase.")
    expect(page.get_by_label("Passphrase")).to_have_accessible_description("That is not the passphrase.")
    expect(page.get_by_label("Passphrase")).to_have_value("")
    assert page.context.cookies() == []
    sign_in(page)
    expect(page).to_have_url(f"{opened.address}build/TG-6")


def test_guessing_is_stopped(page, opened):
    """The sixth try is not looked at, right as it is."""
    page.goto(opened.address)
    for _ in range(5):
        sign_in(page, "oak oak oak")
        expect(page.get_by_role("alert")).to_have_text("That is not the passphrase.")
    sign_in(page)

    expect(page.get_by_role("alert")).to_have_text(re.compile("Too many tries. Wait [0-9]+ seconds"))
    assert page.context.cookies() == []


def test_signing_out_shuts_every_tab(page, opened):
    """Another tab of the browser loses its contact and is sent to sign in; going back shows nothing."""
    page.goto(opened.address)
    sign_in(page)
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()
    other = page.context.new_page()
    other.goto(opened.address)
    expect(other.get_by_role("rowheader", name="TG-6").first).to_be_visible()

    page.get_by_role("link", name="Sign out").click()
    page.get_by_role("button", name="Sign out").click()

    expect(page).to_have_title("Sign in · Dryfit")
    expect(other.get_by_text("No contact with the server")).to_be_visible(timeout=20_000)
    other.reload()
    expect(other).to_have_title("Sign in · Dryfit")
    page.go_back()
    expect(page.get_by_role("rowheader", name="TG-6")).to_have_count(0)


def test_the_cookie_is_kept_from_scripts_and_other_sites(page, opened):
    """As the browser itself keeps it."""
    page.goto(opened.address)
    sign_in(page)
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()

    (cookie,) = page.context.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")
    assert page.evaluate("document.cookie") == ""


def test_a_restart_keeps_a_device_signed_in(page, opened):
    """The secret is in the shop's folder."""
    page.goto(opened.address)
    sign_in(page)
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()

    opened.stop()
    opened.start()
    page.reload()

    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()


def test_a_scanned_link_lets_a_phone_in_once(page, browser, opened, heard):
    """One press of a button; a second device with the same link stays outside."""
    link = f"{opened.address}enter?token={opened.told[1]}"
    page.goto(link)
    page.get_by_role("button", name="Open the dashboard").click()
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()
    assert heard == []

    other = browser.new_page()
    other.goto(link)
    expect(other.get_by_role("heading", name="This link is over")).to_be_visible()
    other.goto(opened.address)
    expect(other).to_have_title("Sign in · Dryfit")
    other.close()


def test_another_site_cannot_use_a_signed_in_browser(page, opened, other_site):
    """A page from another port of the computer, to which the browser sends the cookie, gets nothing."""
    page.goto(opened.address)
    sign_in(page)
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()
    foreign = page.context.new_page()
    foreign.goto(other_site)

    told = foreign.evaluate(
        """async address => {
            const asking = {credentials: "include"};
            await fetch(address + "logout", {...asking, method: "POST", mode: "no-cors"}).catch(() => null);
            const read = await fetch(address + "_dash-layout", asking).then(() => "read", () => "blocked");
            const socket = await new Promise(done => {
                const line = new WebSocket(address.replace("http", "ws") + "_dash-ws-callback");
                line.onopen = () => done("open");
                line.onerror = () => done("blocked");
            });
            return [read, socket];
        }""",
        opened.address,
    )

    assert told == ["blocked", "blocked"]
    page.reload()
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()


@pytest.mark.parametrize(
    "path",
    ["", "build/TG-6", "drift", "_dash-layout", "_dash-dependencies", "_dash-config", "_reload-hash",
     "assets/bench_page.js", "assets/shell.js", "docs", "openapi.json", "not-found", "favicon.ico"],
)  # fmt: skip
def test_the_real_server_gives_nothing_away(shared, path):
    """Pages are sent to the sign-in, all else is refused."""
    assert status(shared.address + path, Accept="text/html") == 303
    assert status(shared.address + path) == 403


def test_the_real_server_runs_no_callback(shared):
    """With the right origin and without."""
    for origin in (shared.address.rstrip("/"), "http://shop.example"):
        address = f"{shared.address}_dash-update-component"
        assert status(address, b"{}", Origin=origin, Content_Type="application/json") == 403


def test_the_real_server_upgrades_no_stranger(shared):
    """No session: 403, whatever the origin; and no other host name."""
    here = f"Origin: {shared.address.rstrip('/')}"
    assert b" 403 " in upgrade(shared, here)
    assert b" 403 " in upgrade(shared, here, "Cookie: dryfit=forged")
    assert b" 403 " in upgrade(shared, "Origin: http://shop.example")
    assert status(shared.address, Host="shop.example") == 400


@pytest.fixture(scope="module")
def shared(shops, serve_shop, tmp_path_factory):
    """Served behind its door: nobody signs in here."""
    folder = shops.empty_shop(tmp_path_factory.mktemp("shared") / "shop")
    make_keep(folder, PHRASE)
    made = serve_shop(folder, SERVE)
    yield made
    made.stop()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_the_way_in_fits_and_can_be_used_by_anybody(
    page, shared, picture, scheme, width, heard, broken_rules
):
    """No rule of accessibility broken and no sideways scroll, on the sign-in and the link's page."""
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 800})
    shown = {
        "login": "login",
        "enter": f"enter?token={shared.told[1]}",
    }
    for name, path in shown.items():
        page.goto(shared.address + path)
        expect(page.locator("h1")).to_be_visible()
        picture(f"{name}-{width}-{scheme}")
        assert broken_rules() == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert heard == []
