"""Without a session there is nothing but the way in; with one, everything."""

from __future__ import annotations

import asyncio
import re
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from urllib.parse import urlencode

import argon2
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dashboard.lan.door import OPEN_FILES, OVER, SESSION_S
from dashboard.lan.keep import load_keep, make_keep
from dashboard.lan.network import Lan, guarded
from dashboard.lan.tries import FROM_ONE, OneTimeLink

PHRASE = "walnut spruce ebony"
ADDRESS = "10.0.0.5"


@dataclass
class Answer:
    """What came back: status, headers by name, text."""

    status: int
    headers: dict[str, str]
    text: str


@dataclass
class Device:
    """A browser: it keeps a cookie, and says where a form comes from."""

    app: object
    address: str = "10.0.0.20"
    cookie: str = ""
    host: str = f"{ADDRESS}:8050"
    given: list[str] = field(default_factory=list)

    def ask(self, path, form=None, method=None, body=None, **headers) -> Answer:
        sent = {"host": self.host, "accept": "text/html", "cookie": self.cookie}
        if form is not None or body is not None:
            sent |= {"origin": f"http://{self.host}"}
        scope = self.scope("http", path, sent | headers) | {
            "method": method or ("GET" if form is None else "POST")
        }
        content = body if body is not None else urlencode(form or {}).encode()
        out = run(self.app, scope, [{"type": "http.request", "body": content, "more_body": False}])
        found = {name.decode(): value.decode() for name, value in out[0]["headers"]}
        if "set-cookie" in found:
            self.given.append(found["set-cookie"])
            self.cookie = found["set-cookie"].partition(";")[0]
        return Answer(out[0]["status"], found, b"".join(part.get("body", b"") for part in out[1:]).decode())

    def socket(self, messages=(), origin=f"http://{ADDRESS}:8050", before=lambda: None) -> list[dict]:
        headers = {"host": self.host, "origin": origin, "cookie": self.cookie}
        scope = self.scope(
            "websocket", "/_dash-ws-callback", {k: v for k, v in headers.items() if v is not None}
        )
        return run(self.app, scope, [{"type": "websocket.connect"}, *messages], before)

    def scope(self, kind, path, headers):
        path, _, query = path.partition("?")
        return {
            "type": kind, "http_version": "1.1", "scheme": "http", "path": path, "raw_path": path.encode(),
            "query_string": query.encode(), "root_path": "", "client": (self.address, 1),
            "server": (ADDRESS, 8050), "subprotocols": [],
            "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        }  # fmt: skip

    def sign_in(self, passphrase=PHRASE, then="/"):
        return self.ask("/login", {"passphrase": passphrase, "next": then})


def in_loop(coroutine):
    """Runs it in a thread of its own, for a browser of other tests may keep this one's loop."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, coroutine).result()


def run(app, scope, messages, before=lambda: None):
    """What the app sends, given those messages and then a lost connection; `before` each but the first."""
    sent, queue = [], list(messages)

    async def receive():
        if len(queue) < len(messages):
            before()
        return queue.pop(0) if queue else {"type": f"{scope['type']}.disconnect", "code": 1006}

    async def send(message):
        sent.append(message)

    in_loop(app(scope, receive, send))
    return sent


class Behind:
    """The app behind the door: it notes every path that reaches it."""

    def __init__(self) -> None:
        self.reached: list[str] = []
        self.before_telling = []

    async def __call__(self, scope, receive, send):
        self.reached.append(scope["path"])
        if scope["type"] == "http":
            await send(
                {
                    "type": "http.response.start",
                    "status": 200,
                    "headers": [(b"content-type", b"application/json")],
                }
            )
            await send({"type": "http.response.body", "body": b"behind"})
            return
        await receive()
        await send({"type": "websocket.accept"})
        with suppress(OSError):  # told by the server that the socket is closed
            for happens in self.before_telling:
                happens()
                await send({"type": "websocket.send", "text": "news"})
        while (message := await receive())["type"] == "websocket.receive":
            await send({"type": "websocket.send", "text": message["text"]})


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A folder where the passphrase is kept, its hash a light one: the full one is tried in test_lan_keep."""
    folder = tmp_path_factory.mktemp("kept")
    with pytest.MonkeyPatch.context() as light:
        hasher = partial(argon2.PasswordHasher, time_cost=1, memory_cost=64, parallelism=1)
        light.setattr(argon2, "PasswordHasher", hasher)
        make_keep(folder, PHRASE)
    return folder


@pytest.fixture
def behind():
    """The app behind the door."""
    return Behind()


@pytest.fixture
def lan(kept):
    """How it is opened."""
    return Lan(load_keep(kept), OneTimeLink(), (ADDRESS,))


@pytest.fixture
def device(behind, lan):
    """A device outside the door."""
    return Device(guarded(behind, lan, 8050))


PATHS = [
    "/", "/build/TG-1", "/_dash-layout", "/_dash-dependencies", "/_dash-update-component", "/_reload-hash",
    "/_dash-component-suites/dash/deps/react.js", "/assets/bench_page.js", "/assets/", "/assets/../shop.toml",
    "/assets/bench.css/", "//assets/bench.css", "/login/", "/Login", "/enter/x", "/logout/x", "/favicon.ico",
    "",
]  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH"])
def test_nothing_is_reached_without_a_session(device, behind, method, path):
    """Pages, callbacks, files: sent to the sign-in or refused."""
    assert device.ask(path, method=method, origin=f"http://{device.host}").status in (303, 403)
    assert behind.reached == []


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    path=st.text(max_size=40).map(lambda text: "/" + text), method=st.sampled_from(["GET", "POST", "HEAD"])
)
def test_no_path_at_all_is_reached_without_a_session(device, behind, path, method):
    """Whatever is asked for, but the four files of the door's own pages."""
    device.ask(path.replace("?", ""), method=method, origin=f"http://{device.host}")
    assert set(behind.reached) <= OPEN_FILES


@pytest.mark.parametrize("path", sorted(OPEN_FILES))
def test_the_door_s_own_files_can_only_be_read(device, behind, path):
    """Its styles, theme and mark, by GET."""
    assert device.ask(path).status == 200
    assert device.ask(path, {}).status == 403
    assert behind.reached == [path]


def test_the_passphrase_opens_everything(device, behind):
    """Pages and callbacks, read and posted."""
    assert device.sign_in().status == 303
    assert device.ask("/_dash-layout").text == "behind"
    assert device.ask("/_dash-update-component", {"a": "1"}).text == "behind"
    assert behind.reached == ["/_dash-layout", "/_dash-update-component"]


@pytest.mark.parametrize("wrong", ["", "walnut", PHRASE + "x", PHRASE.upper(), "\0", "%00"])
def test_a_wrong_passphrase_opens_nothing(device, behind, wrong):
    """It is said so, no cookie is set, and the passphrase typed is not repeated."""
    answer = device.sign_in(wrong)

    assert answer.status == 403
    assert "That is not the passphrase." in answer.text
    assert device.given == []
    assert 'value="walnut' not in answer.text
    assert device.ask("/").status == 303
    assert behind.reached == []


def test_a_wrong_passphrase_is_told_where_the_dashboard_runs(device, caplog):
    """By address, without what was typed."""
    device.sign_in("a guess of mine")

    assert "10.0.0.20: a wrong passphrase" in caplog.text
    assert "guess" not in caplog.text


def test_the_cookie_is_kept_from_scripts_and_other_sites(device):
    """HttpOnly, SameSite=Strict, the whole site, an end; and of another name for another port."""
    device.sign_in()
    flags = [part.strip().lower() for part in device.given[0].split(";")]

    assert flags[0].startswith("dryfit-8050=")
    assert {"httponly", "samesite=strict", "path=/", f"max-age={SESSION_S}"} <= set(flags)
    assert "secure" not in flags  # http only: a browser would not keep it


def test_behind_a_proxy_the_cookie_is_for_tls_only(behind, kept):
    """And the proxy's name is answered."""
    lan = Lan(load_keep(kept), OneTimeLink(), (), "bench.example")
    device = Device(guarded(behind, lan, 8050), host="bench.example")

    assert device.sign_in().status == 303
    assert "; secure" in device.given[0].lower()


def test_a_changed_cookie_is_none(device, behind):
    """Its signature fails: another session, or the same one with a later end."""
    device.sign_in()
    name, _, value = device.cookie.partition("=")
    for forged in (
        "x" + value,
        value[:-2] + ("A" if value[-2] != "A" else "B") + value[-1],  # the last one holds bits of nothing
        "null",
        "",
        value.partition(".")[0],
    ):
        assert Device(device.app, cookie=f"{name}={forged}").ask("/").status == 303
    assert behind.reached == []


def test_a_restart_keeps_the_sessions(device, kept):
    """The secret comes from the file."""
    device.sign_in()
    again = Behind()

    device.app = guarded(again, Lan(load_keep(kept), OneTimeLink(), (ADDRESS,)), 8050)

    assert device.ask("/").text == "behind"


def test_another_passphrase_ends_every_session(device, tmp_path):
    """Signed with the former secret, they are worth nothing."""
    device.sign_in()

    device.app = guarded(
        Behind(), Lan(make_keep(tmp_path, "maple cedar rosewood"), OneTimeLink(), (ADDRESS,)), 8050
    )

    assert device.ask("/").status == 303


def test_signing_out_ends_the_session_for_good(device, kept):
    """A copy of its cookie is worth nothing any more, after a restart neither."""
    device.sign_in()
    copy = Device(device.app, cookie=device.cookie)
    assert device.ask("/logout").status == 200
    assert copy.ask("/").text == "behind"

    assert device.ask("/logout", {}).headers["location"] == "/login"

    assert "1970" in device.given[-1]
    assert copy.ask("/").status == 303
    copy.app = guarded(Behind(), Lan(load_keep(kept), OneTimeLink(), (ADDRESS,)), 8050)
    assert copy.ask("/").status == 303


def test_others_stay_signed_in(device):
    """Each device has a session of its own."""
    other = Device(device.app, "10.0.0.21")
    device.sign_in()
    other.sign_in()

    device.ask("/logout", {})

    assert other.ask("/").text == "behind"


def test_a_session_is_over_after_its_days(behind, lan):
    """Two weeks after signing in, even where a browser or its thief still has the cookie."""
    now = time.time()
    later = [now]
    device = Device(guarded(behind, lan, 8050, clock=lambda: later[0]))
    device.sign_in()

    later[0] = now + SESSION_S - 1
    assert device.ask("/").text == "behind"
    later[0] = now + SESSION_S
    assert device.ask("/").status == 303


@pytest.mark.parametrize("origin", ["http://shop.example", "null", f"http://{ADDRESS}:8051", None])
def test_no_other_site_can_post_for_a_signed_in_browser(device, behind, origin):
    """Nor sign it in or out; the cookie alone is not enough."""
    device.sign_in()
    headers = {"origin": origin} if origin else {}
    for path in ("/_dash-update-component", "/login", "/logout", "/enter"):
        assert device.ask(path, method="POST", **headers).status == 403
    assert behind.reached == []
    assert device.ask("/").text == "behind"


@pytest.mark.parametrize("host", ["shop.example", "10.0.0.6:8050", f"{ADDRESS}.shop.example", "", "*"])
def test_another_host_name_gets_nothing(device, behind, host):
    """A name that a foreign page has pointed at this computer, session or not."""
    device.sign_in()
    device.host = host

    assert device.ask("/").status == 400
    assert device.ask("/login").status == 400
    assert behind.reached == []


def test_a_websocket_needs_session_origin_and_host(device, behind):
    """Each alone is refused before anything is accepted."""
    assert device.socket()[0]["type"] == "websocket.close"
    device.sign_in()
    assert device.socket(origin="http://shop.example")[0]["type"] == "websocket.close"
    assert device.socket(origin=None)[0]["type"] == "websocket.close"
    assert behind.reached == []

    assert device.socket([{"type": "websocket.receive", "text": "hello"}])[:2] == [
        {"type": "websocket.accept"},
        {"type": "websocket.send", "text": "hello"},
    ]

    device.host = "shop.example"
    assert "websocket.accept" not in [m["type"] for m in device.socket(origin="http://shop.example")]


def test_signing_out_closes_an_open_websocket(device):
    """At its next message, which a page sends every two seconds."""
    device.sign_in()
    other = Device(device.app, cookie=device.cookie)
    hello = {"type": "websocket.receive", "text": "hello"}
    seen = []

    def at_the_second():
        seen.append(1)
        if len(seen) == 2:
            other.ask("/logout", {})

    sent = device.socket([hello, hello], before=at_the_second)

    assert [message["type"] for message in sent] == ["websocket.accept", "websocket.send", "websocket.close"]
    assert sent[-1]["code"] == OVER


def test_signing_out_closes_a_websocket_that_only_listens(device, behind):
    """Before anything more is told there."""
    device.sign_in()
    other = Device(device.app, cookie=device.cookie)
    behind.before_telling = [lambda: None, lambda: other.ask("/logout", {})]

    sent = device.socket()

    assert [message["type"] for message in sent] == ["websocket.accept", "websocket.send", "websocket.close"]
    assert sent[-1]["code"] == OVER


def test_guessing_is_stopped_and_said(device):
    """Five tries, then 429 with how long to wait, for the right passphrase too; others may still try."""
    statuses = [device.sign_in("guess").status for _ in range(FROM_ONE)]
    answer = device.sign_in()

    assert statuses == [403] * FROM_ONE
    assert answer.status == 429
    assert 0 < int(answer.headers["retry-after"]) <= 60
    assert re.search(r"Wait \d+ seconds", answer.text)
    assert Device(device.app, "10.0.0.21").sign_in().status == 303


def test_who_mistypes_and_then_knows_it_begins_anew(device):
    """Signing in clears the count of its address."""
    statuses = [device.sign_in(typed).status for typed in ("guess", "guess", "guess", PHRASE, *["guess"] * 4)]

    assert statuses == [403] * 3 + [303] + [403] * 4


def test_tries_at_the_same_moment_are_all_counted(device, lan, monkeypatch):
    """Counted before the passphrase is looked at, so that none slips by while a hash is made."""
    looked = []
    monkeypatch.setattr(lan.keep, "matches", lambda typed: looked.append(typed))
    scope = device.scope("http", "/login", {"host": device.host, "origin": f"http://{device.host}"})
    statuses = []

    async def one():
        async def receive():
            await asyncio.sleep(0)
            return {"type": "http.request", "body": b"passphrase=guess", "more_body": False}

        async def send(message):
            statuses.append(message.get("status"))

        await device.app(scope | {"method": "POST"}, receive, send)

    async def all_at_once():
        await asyncio.gather(*(one() for _ in range(40)))

    in_loop(all_at_once())

    assert len(looked) == FROM_ONE
    assert statuses.count(429) == 40 - FROM_ONE


def test_a_link_lets_one_device_in_once(device, lan):
    """Opening it is not using it, for previews open links; pressing its button is, and only once."""
    token = lan.link.new()
    assert [device.ask(f"/enter?token={token}").status for _ in range(2)] == [200, 200]
    assert device.given == []

    assert device.ask("/enter", {"token": token}).status == 303
    assert device.ask("/").text == "behind"

    other = Device(device.app, "10.0.0.21")
    assert other.ask(f"/enter?token={token}").status == 403
    assert other.ask("/enter", {"token": token}).status == 403
    assert other.ask("/").status == 303


@pytest.mark.parametrize("token", ["", "x", '"><script>alert(1)</script>'])
def test_a_wrong_link_lets_nobody_in(device, lan, token):
    """And is not written into the page."""
    lan.link.new()
    answer = device.ask("/enter?" + urlencode({"token": token}))

    assert answer.status == 403
    assert "<script>" not in answer.text
    assert device.ask("/enter", {"token": token}).status == 403
    assert device.given == []


@pytest.mark.parametrize(
    ("wanted", "led"),
    [
        ("/build/TG%207?unit=in", "/build/TG%207?unit=in"),
        ("//shop.example/", "/"),
        ("/\\shop.example/", "/"),
        ("http://shop.example/", "/"),
        ("/a\r\nSet-Cookie: x=1", "/"),
        ("/\t/shop.example", "/"),
        ("", "/"),
    ],
)
def test_after_signing_in_the_page_asked_for_is_shown_and_never_another_site(device, wanted, led):
    """Only a path of this server is followed."""
    assert device.sign_in(then=wanted).headers["location"] == led


def test_the_page_asked_for_goes_through_the_sign_in(device):
    """A scanned code of a build leads to it, its odd name and query intact."""
    sent_to = device.ask("/build/TG%207?unit=in").headers["location"]
    page = device.ask(sent_to).text
    then = re.search(r'name="next" value="([^"]*)"', page)[1]

    assert sent_to == "/login?next=%2Fbuild%2FTG%25207%3Funit%3Din"
    assert device.sign_in(then=then).headers["location"] == "/build/TG%207?unit=in"


def test_a_script_in_the_wish_stays_text(device):
    """Whatever is asked for is escaped."""
    text = device.ask("/login?" + urlencode({"next": '/"><script>alert(1)</script>'})).text

    assert "<script>alert" not in text


def test_a_long_form_is_refused_before_it_is_hashed(device, lan, monkeypatch):
    """Nobody makes the server hash a book."""
    monkeypatch.setattr(lan.keep, "matches", lambda typed: pytest.fail("hashed"))

    assert device.ask("/login", body=b"passphrase=" + b"x" * 5000, method="POST").status == 413


@pytest.mark.parametrize("body", [b"\xff\xfe", b"&" * 100, b"=", b"passphrase", b"a=1&" * 50])
def test_an_odd_form_is_refused(device, body):
    """No error of ours."""
    assert device.ask("/login", body=body, method="POST").status in (403, 413)


def test_pages_and_values_are_not_kept_by_the_browser(device):
    """So that nothing is shown by going back after signing out."""
    assert device.ask("/login").headers["cache-control"] == "no-store"
    device.sign_in()
    assert device.ask("/_dash-layout").headers["cache-control"] == "no-store"


def test_every_answer_of_the_door_holds_the_browser(device):
    """The door's own policy, also on a refusal."""
    for path in ("/login", "/", "/enter?token=x"):
        headers = device.ask(path).headers
        assert headers["content-security-policy"].startswith("default-src 'none'")
        assert headers["x-frame-options"] == "DENY"
