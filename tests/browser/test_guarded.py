"""The server keeps to this computer and to its own pages."""

from __future__ import annotations

import errno
import socket
import urllib.error
import urllib.request

import pytest

from dashboard.errors import ServeError
from dashboard.serve import run


def ask(address: str, data: bytes | None = None, **headers: str) -> tuple[int, dict[str, str]]:
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    request = urllib.request.Request(address, data=data, headers=named)  # noqa: S310 - our own server
    try:
        with urllib.request.urlopen(request, timeout=5) as answer:  # noqa: S310
            return answer.status, {name.lower(): value for name, value in answer.headers.items()}
    except urllib.error.HTTPError as error:
        with error:
            return error.code, {name.lower(): value for name, value in error.headers.items()}


def test_another_host_name_is_refused(full):
    """A name that a foreign page has pointed at this computer gets nothing."""
    assert ask(full.address, Host="shop.example")[0] == 400


def test_a_foreign_page_cannot_make_a_browser_change_anything(full):
    """What another site posts is refused before any callback sees it."""
    status, _ = ask(
        f"{full.address}_dash-update-component",
        b"{}",
        Origin="http://shop.example",
        Content_Type="application/json",
    )
    assert status == 403


def test_the_policy_allows_nothing_from_elsewhere(full):
    """Every source named is the server itself, data in the page, or a script known by its hash."""
    _, headers = ask(full.address)
    policy = dict(rule.strip().split(" ", 1) for rule in headers["content-security-policy"].split(";"))

    assert policy["default-src"] == "'self'"
    assert "unsafe" not in policy["script-src"]
    sources = {source for rule in policy.values() for source in rule.split()}
    assert not [s for s in sources if s.startswith(("http", "ws", "*"))]
    assert headers["x-content-type-options"] == "nosniff"


def test_only_this_computer_is_served(full):
    """Nothing listens on the computer's other addresses."""
    port = int(full.address.rstrip("/").rpartition(":")[2])
    with socket.socket() as other:
        other.settimeout(2)
        assert other.connect_ex(("127.0.0.2", port)) == errno.ECONNREFUSED


def test_no_list_of_addresses_is_given_away(full):
    """The framework's own pages, which would fetch scripts from elsewhere, are off."""
    for path in ("docs", "redoc", "openapi.json"):
        request = f"{full.address}{path}"
        with urllib.request.urlopen(request, timeout=5) as answer:  # noqa: S310
            text = answer.read().decode()
        assert "swagger" not in text.lower()
        assert '"paths"' not in text


def test_a_port_that_is_taken_is_said_in_one_line(tmp_path):
    """With what to do about it."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(ServeError, match=f"port {port} is taken") as refused:
            run(tmp_path, port)

    assert "\n" not in str(refused.value)
    assert f"--port {port + 1}" in str(refused.value)


def test_a_port_that_does_not_exist_is_said(tmp_path):
    """A number beyond the last port."""
    with pytest.raises(ServeError, match="port 70000 cannot be used"):
        run(tmp_path, 70_000)
