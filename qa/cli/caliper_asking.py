"""Readings of known sizes, from options, from a person, or from the instrument's line."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import TYPE_CHECKING

import typer

from drivers.errors import LengthError
from qa.calipers.known_sizes import Pair, number, typed_unit
from qa.errors import ShopError

if TYPE_CHECKING:
    from drivers.reading import Reading
    from drivers.serial_line import SerialLine
    from qa.instruments import Instrument
    from qa.shop import Shop

PATIENCE = 120.0


def _of_reading(reading: Reading, unit: str) -> Decimal:
    """A reading in the instrument's unit, exact; ShopError where it is of another kind."""
    if unit == "mm" and reading.nanometres is not None:
        return Decimal(reading.nanometres).scaleb(-6).normalize() + Decimal("0.00")
    if reading.unit == unit:
        return reading.value
    raise ShopError(f"it sent {reading.value} {reading.unit}, but it is to measure in {unit}")


def ask_for_readings(shop: Shop, instrument: Instrument, typed: bool = False) -> list[Pair]:
    """Guide a check: jaws closed, then the blocks that are named; an empty answer ends it."""
    unit = typed_unit(instrument.unit, shop.unit)
    with reader(shop, instrument, typed) as read:
        pairs: list[Pair] = []
        if instrument.quantity == "length":
            typer.echo("Wipe the jaws: pull clean paper through them. Close them gently.")
            shown = read("closed jaws")
            pairs += [] if shown is None else [(Decimal(0), shown)]
            typer.echo("Now blocks near the sizes you build, at the root and again at the tip of the jaws.")
        while (name := _answer(f"Next known size, {unit} (nothing to end)")) != "":
            try:
                reference = number(name, unit)
            except LengthError as error:
                typer.secho(f"   {error}", fg="yellow")
                continue
            shown = read(name)
            pairs += [] if shown is None else [(reference, shown)]
    return pairs


def aside(as_json: bool) -> contextlib.AbstractContextManager[object]:
    """What is said while asking goes to stderr where stdout is to hold one JSON document."""
    return contextlib.redirect_stdout(sys.stderr) if as_json else contextlib.nullcontext()


@contextlib.contextmanager
def reader(
    shop: Shop, instrument: Instrument, typed: bool, nothing: str = "nothing to pass over"
) -> Iterator[Callable[[str], Decimal | None]]:
    """Gives one reading at a time, None where nothing is typed; `nothing` says what that means."""
    if typed or not instrument.url:
        unit = typed_unit(instrument.unit, shop.unit)
        yield lambda what: _typed(f"What does it show at {what}, {unit}? ({nothing})", unit)
        return
    from drivers.frames import load_profile
    from drivers.serial_line import SerialLine

    with SerialLine(shop.line_url(instrument), load_profile(shop.profile_path(instrument))) as line:
        yield lambda what: _of_reading(_heard(line, what), instrument.unit)


def _typed(question: str, unit: str) -> Decimal | None:
    while text := _answer(question):
        try:
            return number(text, unit)
        except LengthError as error:
            typer.secho(f"   {error}", fg="yellow")
    return None


def _answer(question: str) -> str:
    """A line typed, or "" at the end of the input."""
    try:
        return str(typer.prompt(question, default="", show_default=False)).strip()
    except typer.Abort:
        typer.echo("")
        return ""


def hear_one(shop: Shop, instrument: Instrument) -> Decimal:
    """The next reading an instrument sends, in its unit; ShopError where it sends none in two minutes."""
    with reader(shop, instrument, typed=False) as read:
        heard = read("what it is to measure")
    if heard is None:
        raise ShopError(f"{instrument.id} sent nothing")
    return heard


def _heard(line: SerialLine, what: str) -> Reading:
    from drivers.reading import BadRecord, Reading
    from drivers.serial_line import LineState

    while line.hear(0.05).raw:
        pass  # what was sent before it was asked for belongs to no size
    if line.profile.request:
        _answer(f"Enter when it holds {what}")
        line.request()
    else:
        typer.echo(f"-> {what}: press its button")
    for event in line.events(timeout=PATIENCE):
        if isinstance(event, Reading):
            typer.echo(f"   {event.value} {event.unit}")
            return event
        if isinstance(event, BadRecord):
            typer.secho(f"   not a reading: {event.why}", fg="yellow")
        elif isinstance(event, LineState) and event.state != "open":
            typer.secho(f"   {event.why}", fg="yellow")
    raise ShopError(
        f"nothing was heard for {PATIENCE:g} s: is it switched on? Type the readings with --typed"
    )
