"""`dryfit serve --lan`: the passphrase asked for, and what is said about what was opened."""

from __future__ import annotations

import os
import re
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from dashboard.lan.keep import Keep
    from dashboard.lan.network import Lan

VARIABLE = "DRYFIT_PASSPHRASE"
UNENCRYPTED = """\
Caution: this is http without encryption. Whoever can listen in on the network can read the passphrase and
everything else. Use it only on a network you trust; else put a reverse proxy with TLS on this computer in
front of it, and start it with --proxy-name NAME."""


def open_lan(folder: Path, new_passphrase: bool = False, proxy_name: str | None = None) -> Lan:
    """How the shop's dashboard is to be opened; asks for a passphrase where there is none.

    ServeError where there is no passphrase and nobody to ask, or no network to open it to.
    """
    from dashboard.errors import ServeError
    from dashboard.lan.network import Lan, network_addresses
    from dashboard.lan.tries import OneTimeLink

    if proxy_name and not re.fullmatch(r"[A-Za-z0-9.-]+", proxy_name):
        raise ServeError(f"--proxy-name is a host name alone, such as bench.example, not {proxy_name!r}")
    addresses = () if proxy_name else network_addresses()
    if not addresses and not proxy_name:
        raise ServeError(
            "this computer has no address in a local network; connect it, or serve without --lan "
            "to this computer only"
        )
    return Lan(_keep(folder, new_passphrase), OneTimeLink(), addresses, proxy_name)


def say_opened(lan: Lan, address: str) -> None:
    """What is open to whom, and how to stop it; at a terminal also a code for a phone, another at Enter."""
    port = address.rstrip("/").rpartition(":")[2]
    typer.echo("The dashboard is open to whoever has the passphrase, at:")
    if lan.proxy_name:
        typer.echo(f"  https://{lan.proxy_name}/  as passed on to {address} by your reverse proxy")
    else:
        for one in lan.addresses:
            typer.echo(f"  http://{one}:{port}/  from the local network")
        typer.echo(f"  {address}  on this computer")
        typer.echo(UNENCRYPTED)
    first = f"https://{lan.proxy_name}" if lan.proxy_name else f"http://{lan.addresses[0]}:{port}"
    if sys.stdout.isatty():
        _show_link(lan, first)
    if sys.stdin.isatty():
        typer.echo(
            "Enter shows another link and ends this one. Ctrl-C stops the dashboard: nothing is open then."
        )
        threading.Thread(target=_show_more, args=(lan, first), daemon=True, name="more-links").start()
    else:
        typer.echo("Ctrl-C, or ending this program, stops the dashboard: nothing is open then.")


def _show_link(lan: Lan, first: str) -> None:
    import segno

    link = f"{first}/enter?token={lan.link.new()}"
    typer.echo("For a phone: scan this. The link lets one device in, once, within ten minutes.")
    segno.make_qr(link, error="l").terminal(out=sys.stdout, compact=True)
    typer.echo(link)


def _show_more(lan: Lan, first: str) -> None:
    for _ in sys.stdin:
        _show_link(lan, first)


def _keep(folder: Path, new_passphrase: bool) -> Keep:
    from dashboard.errors import ServeError
    from dashboard.lan.keep import load_keep, make_keep

    given = os.environ.pop(VARIABLE, None)  # no program started from here needs it
    kept = None if new_passphrase else load_keep(folder)
    if kept and (given is None or kept.matches(given)):
        return kept
    if given is not None:
        keep = make_keep(folder, given)
        if kept:
            typer.echo("The passphrase is another than before: every device has to sign in again.")
        return keep
    if not sys.stdin.isatty():
        raise ServeError(
            f"--lan needs a passphrase: set {VARIABLE}, or start it once at a terminal, where it is asked for"
        )
    return make_keep(folder, _ask())


def _ask() -> str:
    from dashboard.lan.keep import too_short

    typer.echo("Choose the passphrase that people in the workshop sign in with.")
    while True:
        asked: str = typer.prompt("Passphrase", hide_input=True, confirmation_prompt="The same again")
        why = too_short(asked)
        if not why:
            return asked
        typer.echo(f"Not taken: {why}.")
