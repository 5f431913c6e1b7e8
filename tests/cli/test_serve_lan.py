"""`dryfit serve --lan` at the command line: where the passphrase comes from, and what is said."""

import json
import os
import pty
import re
import select
import signal
import stat
import subprocess
import termios
import time
import urllib.request

import pytest

from dashboard.lan.keep import load_keep, make_keep
from dashboard.lan.network import network_addresses

PHRASE = "walnut spruce ebony"
needs_network = pytest.mark.skipif(not network_addresses(), reason="needs a local network")


class Terminal:
    """`dryfit` run at a terminal: what it says is read as it comes, and lines are typed to it."""

    def __init__(self, command_line, *arguments, **extra):
        words, environment = command_line
        self.ours, theirs = pty.openpty()
        self.process = subprocess.Popen(
            [*words, *arguments], stdin=theirs, stdout=theirs, stderr=theirs, env=environment | extra,
            start_new_session=True,
        )  # fmt: skip
        os.close(theirs)
        self.said = ""

    def until(self, words):
        """What is said until those words (a regular expression) have been, new words only."""
        end, begin = time.monotonic() + 30, len(self.said)
        while not re.search(words, self.said[begin:]):
            assert time.monotonic() < end, self.said
            if select.select([self.ours], [], [], 0.2)[0]:
                self.said += os.read(self.ours, 65536).decode().replace("\r\n", "\n")
        return self.said[begin:]

    def type(self, line):
        os.write(self.ours, (line + "\n").encode())

    def answer(self, question, line):
        """Types the answer to a question once it would not be shown."""
        self.until(question)
        end = time.monotonic() + 10
        while termios.tcgetattr(self.ours)[3] & termios.ECHO:
            assert time.monotonic() < end, "what is typed would be shown"
            time.sleep(0.02)
        self.type(line)

    def stop(self):
        self.process.send_signal(signal.SIGINT)
        status = self.process.wait(timeout=15)
        os.close(self.ours)
        return status


@pytest.fixture
def terminal(command_line):
    """Starts `dryfit` at a terminal; stopped at the end."""
    begun = []

    def start(*arguments, **extra):
        begun.append(Terminal(command_line, *arguments, **extra))
        return begun[-1]

    yield start
    for one in begun:
        if one.process.poll() is None:
            one.process.kill()
            one.process.wait()


@needs_network
def test_without_a_passphrase_and_nobody_to_ask(refused, folder, monkeypatch):
    """One line that names the variable; nothing is kept and nothing served."""
    monkeypatch.delenv("DRYFIT_PASSPHRASE", raising=False)

    assert "DRYFIT_PASSPHRASE" in refused("serve", "--lan", "--port", "0")
    assert load_keep(folder) is None


@needs_network
def test_a_short_passphrase(refused, folder, monkeypatch):
    """Refused wherever it comes from."""
    monkeypatch.setenv("DRYFIT_PASSPHRASE", "oak")

    assert "shorter than 8 characters" in refused("serve", "--lan", "--port", "0")
    assert load_keep(folder) is None


@pytest.mark.parametrize("option", [("--new-passphrase",), ("--proxy-name", "bench.example")])
def test_what_goes_with_lan_only(refused, option):
    """Said, rather than left without effect."""
    assert "go with --lan" in refused("serve", *option)


@pytest.mark.parametrize("name", ["*", "https://bench.example", "bench.example:443", "a b"])
def test_a_proxy_s_name_is_a_name_alone(refused, name):
    """Above all not one that stands for any name."""
    assert "--proxy-name" in refused("serve", "--lan", "--proxy-name", name)


def test_a_computer_without_a_network(refused, monkeypatch):
    """Said before anything is asked."""
    monkeypatch.setattr("dashboard.lan.network.network_addresses", lambda: ())
    assert "no address in a local network" in refused("serve", "--lan")


@needs_network
def test_a_kept_file_that_others_can_read(refused, folder):
    """Refused with what to do."""
    make_keep(folder, PHRASE).path.chmod(0o644)
    assert "chmod 600" in refused("serve", "--lan", "--port", "0")


@needs_network
def test_asked_for_the_first_time_hidden_and_twice(terminal, folder):
    """Too short is asked again; then: what is open, the caution, a code for a phone, how to stop."""
    shown = terminal("serve", "--lan", "--port", "0")
    shown.answer("Passphrase:", "oak")
    shown.answer("The same again:", "oak")
    shown.answer("Passphrase:", PHRASE)
    shown.answer("The same again:", PHRASE)
    said = shown.until("Ctrl-C")

    assert PHRASE not in shown.said
    assert "shorter than 8" in shown.said
    assert f"http://{network_addresses()[0]}:" in said
    assert "http without encryption" in said
    assert "TLS" in said
    assert "\N{LOWER HALF BLOCK}" in said or "\N{UPPER HALF BLOCK}" in said
    link = r"/enter\?token=(\S{20,})\n"
    shown.type("")
    assert re.search(link, said)[1] != re.search(link, shown.until(link))[1]
    assert shown.stop() in (0, 130, -signal.SIGINT)
    assert load_keep(folder).matches(PHRASE)
    assert stat.S_IMODE((folder / "lan.json").stat().st_mode) == 0o600


@needs_network
def test_it_is_served_and_not_asked_again(terminal, folder):
    """The passphrase kept is enough; at the network's address stands the sign-in."""
    make_keep(folder, PHRASE)
    shown = terminal("serve", "--lan", "--port", "0")
    said = shown.until("Ctrl-C")

    assert "Passphrase" not in said
    address = next(
        line.split()[0] for line in said.splitlines() if line.startswith(f"  http://{network_addresses()[0]}")
    )
    request = urllib.request.Request(address, headers={"Accept": "text/html"})  # noqa: S310
    with urllib.request.urlopen(request, timeout=5) as answer:  # noqa: S310 - our own server
        assert answer.url.startswith(f"{address}login?")
        assert "<title>Sign in" in answer.read().decode()


@needs_network
def test_another_passphrase_is_asked_for_with_new_passphrase(terminal, folder):
    """The former one is worth nothing from then on."""
    before = make_keep(folder, PHRASE)
    shown = terminal("serve", "--lan", "--new-passphrase", "--port", "0")
    for words in ("Passphrase:", "The same again:"):
        shown.answer(words, "maple cedar rosewood")
    shown.until("Ctrl-C")

    assert load_keep(folder).matches("maple cedar rosewood")
    assert load_keep(folder).secret != before.secret


@needs_network
@pytest.mark.parametrize(("given", "same"), [(PHRASE, True), ("maple cedar rosewood", False)])
def test_a_passphrase_from_the_environment(terminal, folder, given, same):
    """The same one keeps the sessions; another one takes the place of the one kept, and says so."""
    before = make_keep(folder, PHRASE)
    said = terminal("serve", "--lan", "--port", "0", DRYFIT_PASSPHRASE=given).until("Ctrl-C")

    assert (json.loads((folder / "lan.json").read_text())["secret"] == before.secret) is same
    assert ("every device has to sign in again" in said) is not same
    assert load_keep(folder).matches(given)


def test_through_a_proxy_only_this_computer_is_listened_to(terminal, folder):
    """The network's addresses stay shut; the link leads to the proxy's name."""
    make_keep(folder, PHRASE)
    said = terminal("serve", "--lan", "--proxy-name", "bench.example", "--port", "0").until("Ctrl-C")

    assert "https://bench.example/enter?token=" in said
    assert "without encryption" not in said
    port = said.split("http://127.0.0.1:")[1].split("/")[0]
    for address in network_addresses():
        with pytest.raises(OSError, match="refused"):
            urllib.request.urlopen(f"http://{address}:{port}/login", timeout=5)
