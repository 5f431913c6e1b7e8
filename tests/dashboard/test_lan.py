"""Which addresses the dashboard is opened at."""

from __future__ import annotations

import ipaddress
import socket

import pytest

from dashboard.lan.keep import Keep
from dashboard.lan.network import Lan, is_local, network_addresses
from dashboard.lan.tries import OneTimeLink
from dashboard.serve import listen


@pytest.mark.parametrize("address", ["10.1.2.3", "172.16.0.1", "172.31.9.9", "192.168.1.20", "169.254.7.7"])
def test_addresses_of_local_networks_are_opened(address):
    """Private use (RFC 1918) and link-local (RFC 3927)."""
    assert is_local(address)


@pytest.mark.parametrize("address", ["8.8.8.8", "172.32.0.1", "127.0.0.1", "127.0.1.1", "224.0.0.251"])
def test_other_addresses_are_not(address):
    """The internet's, this computer's own, and many at once."""
    assert not is_local(address)


def test_each_address_found_is_this_computer_s(tmp_path):
    """A socket can listen there; none is named twice, none is loopback."""
    found = network_addresses()

    assert len(set(found)) == len(found)
    for address in found:
        assert not ipaddress.ip_address(address).is_loopback
        with listen(0, address) as listener:
            assert listener.getsockname()[0] == address


def test_without_any_network_nothing_is_found(monkeypatch):
    """No way out and no interface with an address."""

    class Unconnected(socket.socket):
        def connect(self, address):
            raise OSError("no network")

    monkeypatch.setattr(socket, "socket", Unconnected)
    monkeypatch.setattr(socket, "if_nameindex", lambda: [(1, "no-such-one")])

    assert network_addresses() == ()


def test_a_dashboard_answers_to_its_addresses_and_its_proxy_s_name(tmp_path):
    """Nothing that matches any name."""
    keep = Keep(tmp_path / "lan.json", "", "", {})

    assert Lan(keep, OneTimeLink(), ("10.0.0.5",)).hosts == ("127.0.0.1", "localhost", "10.0.0.5")
    assert Lan(keep, OneTimeLink(), (), "bench.example").hosts == ("127.0.0.1", "localhost", "bench.example")
