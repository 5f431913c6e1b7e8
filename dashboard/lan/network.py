"""Opens the dashboard to the local network: at which addresses, and what a request passes before a page."""

from __future__ import annotations

import ipaddress
import socket
import struct
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from dashboard.lan.keep import Keep
from dashboard.lan.tries import OneTimeLink

if TYPE_CHECKING:
    from starlette.types import ASGIApp

GET_ADDRESS = 0x8915
"""SIOCGIFADDR of Linux, netdevice(7)."""


@dataclass(frozen=True, slots=True)
class Lan:
    """How a dashboard is opened beyond this computer.

    `addresses` are the IPv4 addresses it is served at besides loopback. `proxy_name` is the host name under
    which a reverse proxy with TLS on this computer passes requests on.
    """

    keep: Keep
    link: OneTimeLink
    addresses: tuple[str, ...] = ()
    proxy_name: str | None = None

    @property
    def hosts(self) -> tuple[str, ...]:
        """The names and addresses a request may ask for."""
        return ("127.0.0.1", "localhost", *self.addresses, *([self.proxy_name] if self.proxy_name else []))


def guarded(app: ASGIApp, lan: Lan, port: int, clock: Callable[[], float] = time.time) -> ASGIApp:
    """The app behind its door: host, origin and session are looked at before the app is reached.

    `clock` gives seconds since 1970.
    """
    from starlette.middleware.sessions import SessionMiddleware
    from starlette.middleware.trustedhost import TrustedHostMiddleware

    from dashboard.guard import SameOrigin, SecurityHeaders, door_policy
    from dashboard.lan.door import SESSION_S, Door

    session = SessionMiddleware(
        Door(app, lan.keep, lan.link, clock=clock),
        secret_key=lan.keep.secret,
        session_cookie=f"dryfit-{port}",  # a browser keeps the cookies of all ports of a host together
        max_age=SESSION_S,
        same_site="strict",
        https_only=lan.proxy_name is not None,
    )
    same_origin = SameOrigin(session, strict=True)
    trusted = TrustedHostMiddleware(same_origin, allowed_hosts=lan.hosts, www_redirect=False)
    return SecurityHeaders(trusted, policy=door_policy)


def network_addresses() -> tuple[str, ...]:
    """This computer's IPv4 addresses in local networks, first the one it reaches other networks from.

    Addresses that the whole internet may reach are left out.
    """
    found = [*_way_out(), *_of_interfaces()]
    return tuple(dict.fromkeys(address for address in found if is_local(address)))


def is_local(address: str) -> bool:
    """Whether an IPv4 address belongs to a local network, by IANA's registry of special-purpose addresses."""
    known = ipaddress.IPv4Address(address)
    return not (known.is_global or known.is_loopback or known.is_unspecified or known.is_multicast)


def _way_out() -> list[str]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked, suppress(OSError):
        asked.connect(("198.51.100.1", 9))  # nothing is sent: it only chooses the way
        return [str(asked.getsockname()[0])]
    return []


def _of_interfaces() -> list[str]:
    import fcntl

    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _, name in socket.if_nameindex():
            with suppress(OSError):  # an interface without an address
                answer = fcntl.ioctl(asked, GET_ADDRESS, struct.pack("256s", name.encode()[:15]))
                found.append(socket.inet_ntoa(answer[20:24]))
    return found
