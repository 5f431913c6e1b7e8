"""`dryfit serve` and `dryfit demo`."""

from __future__ import annotations

import random
import sys
import threading
from contextlib import suppress
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import ShopOption

if TYPE_CHECKING:
    from drivers.simulated import SimulatedCaliper

BUILD, PART = "OM-37", "tail-block"
"""What the demo proposes to read: the next build of its shop."""

PortOption = Annotated[
    int, typer.Option("--port", min=0, max=65535, help="Where to serve it; 0 takes a free port.")
]


def add_to(app: typer.Typer) -> None:
    app.command()(serve)
    app.command()(demo)


def serve(
    port: PortOption = 8050,
    lan: Annotated[
        bool, typer.Option("--lan", help="Open it to the local network, for those who have the passphrase.")
    ] = False,
    new_passphrase: Annotated[
        bool, typer.Option("--new-passphrase", help="With --lan: another passphrase; all sign in again.")
    ] = False,
    proxy_name: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="With --lan: only through a TLS proxy here, known by that name."),
    ] = None,
    shop: ShopOption = None,
) -> None:
    """Serve the dashboard until Ctrl-C, to this computer only.

    With --lan to the local network too: the passphrase for that is taken from DRYFIT_PASSPHRASE, else asked
    for the first time; only its hash is kept, in lan.json in the shop's folder.

    Example: dryfit serve --port 8060
    """
    from dashboard.serve import run
    from qa.cli.common import shop_of
    from qa.cli.serving_lan import open_lan, say_opened

    if (new_passphrase or proxy_name) and not lan:
        raise typer.BadParameter("--new-passphrase and --proxy-name go with --lan")
    folder = shop_of(shop).folder
    if not lan:
        run(folder, port, ready=_say_address)
        return
    opened = open_lan(folder, new_passphrase, proxy_name)
    run(folder, port, ready=lambda address: say_opened(opened, address), lan=opened)


def _say_address(address: str) -> None:
    typer.echo(f"The dashboard is at {address} (Ctrl-C stops it).")


def demo(
    folder: Annotated[Path, typer.Argument(help="The folder to make it in.")] = Path("demo-shop"),
    port: PortOption = 8050,
    serve_it: Annotated[
        bool, typer.Option("--serve/--no-serve", help="Serve the dashboard afterwards.")
    ] = True,
    write_logs: Annotated[
        Path | None, typer.Option("--write-logs", metavar="DIR", help="Only write the invented logs there.")
    ] = None,
) -> None:
    """Make the invented demo shop, and serve its dashboard.

    It has two years of readings. A make-believe caliper is heard on a real serial line: press its data button
    on the Bench page, or press Enter here.

    Example: dryfit demo --no-serve
    """
    if write_logs:
        from qa.sample_shop import write

        write_logs.mkdir(parents=True, exist_ok=True)
        typer.echo(f"Wrote {', '.join(str(path) for path in write(write_logs))}.")
        return
    from qa.demo import make_demo

    typer.echo("Everything in this shop is invented: its instruments, its builds, its readings.")
    made = make_demo(folder)
    typer.echo(
        f"{made.folder}: {made.loaded.loaded} readings loaded, {made.loaded.duplicates} were there already."
    )
    if not serve_it:
        typer.echo(
            f"Look at it with: dryfit --shop {made.folder} check OM-16, or dryfit --shop {made.folder} serve"
        )
        return
    _serve_demo(made.folder, made.line, port)


def _serve_demo(folder: Path, line: Path, port: int) -> None:
    from dashboard.serve import listen, run
    from drivers.frames import load_profile
    from drivers.simulated import SimulatedCaliper

    listen(port).close()  # where the demo is open already its caliper is not taken from it
    with SimulatedCaliper(load_profile("text-line"), link=line.absolute(), seed=1) as caliper:
        threading.Thread(target=_press_on_enter, args=(caliper,), daemon=True).start()
        run(folder, port, ready=_say_demo, press=caliper.press)


def _say_demo(address: str) -> None:
    _say_address(address)
    typer.echo(f"Read a part, with a make-believe caliper: {address}bench?build={BUILD}&part={PART}")
    typer.echo("Its data button is on that page; or press Enter here, or type a value first: 22.19")


def _press_on_enter(caliper: SimulatedCaliper) -> None:
    """Each line typed presses the make-believe caliper's data button, on the value typed if any."""
    from drivers.errors import DriverError

    choose = random.Random(1)  # noqa: S311 - a story to repeat, no secret
    for line in sys.stdin:
        with suppress(ArithmeticError):
            try:
                value = Decimal(line.strip().replace(",", ".") or str(round(choose.gauss(22.1, 0.05), 2)))
                typer.echo(f"the caliper sent {caliper.press(value)} mm")
            except DriverError as error:
                typer.echo(f"not sent: {error}")
