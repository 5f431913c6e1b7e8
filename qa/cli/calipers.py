"""`dryfit caliper`: trust in instruments."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from qa.cli.common import ShopOption, shop_of

caliper = typer.Typer(
    name="caliper", help="See what an instrument sends.", no_args_is_help=True, rich_markup_mode=None
)


def add_to(app: typer.Typer) -> None:
    app.add_typer(caliper)


@caliper.command()
def listen(
    instrument: Annotated[str, typer.Argument(metavar="ID", help="An instrument of shop.toml.")],
    seconds: Annotated[
        float | None, typer.Option("--seconds", min=0.1, help="Stop after so long; else by Ctrl-C.")
    ] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Send the profile's request once a second.")] = False,
    shop: ShopOption = None,
) -> None:
    """Show the raw bytes an instrument sends, what they were read as, and why not.

    Nothing is stored, and no command that zeroes an instrument is ever sent.

    Example: dryfit caliper listen CAL-1
    """
    import threading

    from drivers.frames import load_profile
    from drivers.serial_line import listen as hear
    from qa.errors import ShopError

    found = shop_of(shop)
    chosen = found.instrument(instrument)
    if not chosen.url:
        raise ShopError(
            f"{instrument} has no url in shop.toml, so its readings are typed; give it one to listen"
        )
    stop = threading.Event()
    if seconds:
        timer = threading.Timer(seconds, stop.set)
        timer.daemon = True
        timer.start()
    profile = load_profile(found.profile_path(chosen))
    typer.echo(
        f"listening to {instrument} at {chosen.url} as {profile.name}; press its button (Ctrl-C stops)"
    )
    try:
        for heard in hear(found.line_url(chosen), profile, stop, poll_every=1.0 if ask else None):
            _show(heard.raw, heard.events)
    except KeyboardInterrupt:
        typer.echo("")


def _show(raw: bytes, events: Sequence[object]) -> None:
    from drivers.reading import BadRecord, Reading
    from drivers.serial_line import LineState

    if raw:
        typer.echo(f"{raw.hex(' ')}  {raw!r}")
    for event in events:
        if isinstance(event, Reading):
            typer.secho(f"   read as {event.value} {event.unit}", fg="blue")
        elif isinstance(event, BadRecord):
            typer.secho(f"   not a reading: {event.why}", fg="yellow")
        elif isinstance(event, LineState):
            typer.echo(f"   {event.why}")
