"""`dryfit drift`: what the builds say together, and a fix stated."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, ShopOption, open_shop, print_json
from qa.errors import CannotSay

if TYPE_CHECKING:
    from qa.drift.report import DriftReport
    from qa.shop import Shop
    from qa.store.store import Store


def add_to(app: typer.Typer) -> None:
    app.command()(drift)


def drift(
    part: Annotated[str | None, typer.Option(help="One part; all without it.")] = None,
    characteristic: Annotated[str | None, typer.Option(help="One characteristic.")] = None,
    station: Annotated[str | None, typer.Option(help="One station, or a series as named here.")] = None,
    hold: Annotated[
        float | None, typer.Option(metavar="MM", help="Say which sizes you hold within this, plus or minus.")
    ] = None,
    fix: Annotated[
        str | None, typer.Option(metavar="WORDS", help="State what was put right; charts begin anew there.")
    ] = None,
    on: Annotated[
        str | None, typer.Option(metavar="DATE", help="The day of the fix; today without it.")
    ] = None,
    machine: Annotated[str | None, typer.Option(help="The machine the fix was done to.")] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what drifts from build to build, and likely why.

    Charts in numbers, signals, and capability: how well the limits are held. With --fix it keeps what was put
    right instead: --fix "new fence" --on 2025-03-10 --machine "table saw".

    Example: dryfit drift --part brace
    """
    if not fix and (on or machine):
        raise CannotSay("--on and --machine say when and to what a fix was done: give --fix WORDS too")
    with open_shop(shop) as (found, store):
        if fix:
            _state(found, store, fix, on, machine or "", part or "", characteristic or "", as_json)
            return
        _tell(found, store, (part, characteristic, station), hold, as_json)


def _tell(
    shop: Shop,
    store: Store,
    asked: tuple[str | None, str | None, str | None],
    wanted: float | None,
    as_json: bool,
) -> None:
    from qa.drift.document import document
    from qa.drift.hold import hold_all
    from qa.drift.report import report
    from qa.drift.words import hold_sentence, sayer

    found = report(shop, store, *asked)
    held = hold_all(shop, store, wanted, asked[0]) if wanted is not None else []
    said = [hold_sentence(one, sayer(shop.unit)) for one in held]
    if as_json:
        print_json(document(found, shop) | ({"hold": said} if said else {}))
        return
    _print(found, shop)
    _heading("Could it be held?", said)


def _print(found: DriftReport, shop: Shop) -> None:
    from qa.drift.words import cause_sentences, quiet_sentences, sayer, season_sentences, series_sentences

    say = sayer(shop.unit)
    if not any(one.track.made for one in found.series):
        typer.echo("No build has been measured there yet: dryfit measure BUILD PART, or dryfit load FILE.")
        return
    _heading("Likely causes", cause_sentences(found, say))
    _heading("The room", season_sentences(found, shop, say))
    _heading("Machines", quiet_sentences(found, say))
    for one in (one for one in found.series if one.charted):
        _heading(one.track.name, series_sentences(one, found.causes, say))
    rest = [one.track.short for one in found.series if not one.charted]
    if rest:
        typer.echo(f"\n{len(rest)} more series matter less for fit; --part PART shows those of a part.")


def _heading(title: str, said: list[str]) -> None:
    if said:
        typer.secho(f"\n{title}", bold=True)
        for sentence in said:
            typer.echo(f"  {sentence}")


def _state(
    shop: Shop,
    store: Store,
    text: str,
    on: str | None,
    machine: str,
    part: str,
    characteristic: str,
    as_json: bool,
) -> None:
    from qa.drift.fixes import state_fix
    from qa.drift.stating import Concerns, Stated, kept_words

    when = _day(on, shop)
    state_fix(store, text, when, machine, part, characteristic)
    if as_json:
        print_json({"fix": text, "on": when.date().isoformat(), "machine": machine or None})
        return
    typer.echo(kept_words(Stated(text, when.date(), Concerns(machine, part, characteristic), anew=True)))


def _day(on: str | None, shop: Shop) -> dt.datetime:
    now = dt.datetime.now(shop.zone())
    if on is None:
        return now
    try:
        day = dt.datetime.fromisoformat(on)
    except ValueError:
        raise CannotSay(f"{on!r} is not a date; write it like {now.date().isoformat()}") from None
    day = day if day.tzinfo else day.replace(tzinfo=shop.zone())
    if day > now:
        raise CannotSay(f"{on} has not come yet: state a fix once it is done")
    return day
