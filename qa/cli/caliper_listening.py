"""`dryfit caliper listen` and `dryfit caliper ports`: what comes in on the lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, ShopOption, print_json, print_table, shop_of

if TYPE_CHECKING:
    from qa.calipers.hearing import Heard
    from qa.shop import Shop

FIND_SECONDS = 60.0
LONGEST = 1e6


def listen(
    instrument: Annotated[str, typer.Argument(metavar="ID", help="An instrument of shop.toml.")],
    seconds: Annotated[
        float | None, typer.Option("--seconds", min=0.1, help="Stop after so long; else by Ctrl-C.")
    ] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Send the profile's request once a second.")] = False,
    find: Annotated[
        bool, typer.Option("--find", help="Find the profile that fits from a few presses of its button.")
    ] = False,
    write: Annotated[bool, typer.Option("--write", help="With --find: write it into shop.toml.")] = False,
    url: Annotated[
        str | None,
        typer.Option("--url", metavar="URL", help="With --find: its line, where shop.toml has none."),
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what an instrument sends, and how it is read.

    Each record's raw bytes stand beside its reading, or beside why it has none. With --find every shipped
    profile is tried on what comes, and on a real port one speed and parity after another. Nothing is stored,
    and no command that zeroes an instrument is ever sent: without --ask nothing is sent at all. With --find
    --ask the requests of polled profiles are sent: make sure from its manual that none of them means
    something else to your instrument.

    Example: dryfit caliper listen CAL-1 --find --write
    """
    from qa.errors import ShopError

    found = shop_of(shop)
    if seconds is not None and not seconds < LONGEST:
        raise ShopError(f"--seconds must be a number below {LONGEST:g}, got {seconds:g}")
    if (write or url or as_json) and not find:
        raise ShopError("--write, --url and --json go with --find: dryfit caliper listen ID --find")
    if find:
        _find(found, instrument, url, seconds or FIND_SECONDS, ask, write, as_json)
    else:
        _listen(found, instrument, seconds, ask)


def _listen(found: Shop, instrument: str, seconds: float | None, ask: bool) -> None:
    import threading

    from drivers.frames import load_profile
    from drivers.serial_line import listen as hear
    from qa.errors import ShopError

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


def _find(
    found: Shop,
    instrument: str,
    url: str | None,
    seconds: float,
    ask: bool,
    write: bool,
    as_json: bool,
) -> None:
    from dataclasses import replace

    from drivers.frames import load_profile, profiles
    from qa.calipers.describing import write_section
    from qa.calipers.hearing import USUAL_LINES, hear_until_found, open_ear, settings_matter
    from qa.errors import ShopError
    from qa.instruments import Instrument

    known = found.instruments.get(instrument)
    if known is None and url is None:
        found.instrument(instrument)  # says which names are near
    chosen = known or Instrument(instrument)
    chosen = replace(chosen, url=url or chosen.url)
    if not chosen.url:
        raise ShopError(f"{instrument} has no url in shop.toml: name its line with --url /dev/ttyUSB0")
    loaded = {name: load_profile(name) for name in profiles()}
    if known is not None:
        loaded = {name: item for name, item in loaded.items() if item.quantity == known.quantity}
    address = found.line_url(chosen)
    lines = USUAL_LINES if settings_matter(address) else USUAL_LINES[:1]
    if not as_json:
        typer.echo(f"listening at {chosen.url}; press its button a few times, on different sizes")
    heard = hear_until_found(lambda line: open_ear(address, line, loaded), loaded, lines, seconds, ask)
    best = heard.finding.best
    written = None
    if write and best is not None and heard.finding.sure:
        fits = loaded[best.profile]
        other = heard.line if heard.line is not None and heard.line != fits.line else None
        written = write_section(found.folder, instrument, best.profile, url, other, fits.quantity)
    if as_json:
        print_json(_document(heard, written))
    else:
        _print_found(heard, write, written)
    if not heard.finding.sure:
        raise typer.Exit(1)


def _print_found(heard: Heard, write: bool, written: str | None) -> None:
    finding = heard.finding
    best = finding.best
    if best is not None:
        sure = "surely" if finding.sure else "perhaps"
        line = f"at {heard.line}" if heard.line else "(speed and parity have no meaning on this line)"
        typer.secho(f"{sure} {best.profile} {line}", bold=True)
        for value, unit in best.told[-3:]:
            typer.echo(f"   read as {value} {unit}")
    for doubt in finding.doubts:
        typer.secho(doubt, fg="yellow")
    if written:
        typer.secho(f"written into shop.toml: {written}", fg="blue")
    elif write:
        typer.echo("Nothing was written, because it is not sure.")


def _document(heard: Heard, written: str | None) -> dict[str, object]:
    finding = heard.finding
    best = finding.best
    return {
        "profile": best and best.profile,
        "sure": finding.sure,
        "line": str(heard.line) if heard.line else None,
        "readings": [{"value": value, "unit": unit} for value, unit in best.told] if best else [],
        "cannot_tell_from": [item.profile for item in (*finding.equals, *finding.others)],
        "doubts": finding.doubts,
        "bytes": finding.heard,
        "seconds": round(heard.seconds, 2),
        "written": written,
    }


def ports(as_json: JsonOption = False) -> None:
    """List the serial ports of this computer.

    It tells what the system knows of each, so that the caliper's is found.

    Example: dryfit caliper ports
    """
    from drivers.port import ports as known_ports

    found = known_ports()
    if as_json:
        print_json({"ports": [{"device": item.device, "description": item.description} for item in found]})
    elif not found:
        typer.echo("No serial port is known: plug the instrument or its converter in and look again.")
    else:
        print_table(("port", "what the system knows"), [(item.device, item.description) for item in found])
