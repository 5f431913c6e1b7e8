"""`dryfit new`: the first minutes of a shop."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from qa.starter import Wanted


def add_to(app: typer.Typer) -> None:
    app.command()(new)


def new(
    folder: Annotated[Path, typer.Argument(help="The folder to make.")],
    name: Annotated[str | None, typer.Option("--name", help="What the shop is called.")] = None,
    unit: Annotated[str | None, typer.Option("--unit", help="How lengths are shown: mm or in.")] = None,
    starter: Annotated[
        str | None, typer.Option("--starter", help="tenor-ukulele, parlour-guitar or lap-dulcimer.")
    ] = None,
    caliper_url: Annotated[
        str | None,
        typer.Option("--caliper-url", metavar="URL", help="Its line, such as /dev/ttyUSB0; else typed."),
    ] = None,
    profile: Annotated[
        str | None, typer.Option("--profile", help="How it writes its readings; a profile's name.")
    ] = None,
) -> None:
    """Make a starter shop, to be changed into your own.

    It holds a commented shop.toml and one plan of an invented instrument. At a terminal it asks for what was
    not said, each with an answer ready; a script is asked nothing.

    Example: dryfit new my-shop --unit in --starter lap-dulcimer
    """
    from qa.starter import STARTERS, Wanted, write_starter

    usual = Wanted()
    asking = sys.stdin.isatty() and sys.stdout.isatty()
    said = {"name": name, "unit": unit, "starter": starter, "caliper_url": caliper_url, "profile": profile}
    chosen = Wanted(**{key: value for key, value in said.items() if value is not None})
    chosen.check()
    if asking and None in said.values():
        chosen = _ask(said, usual)
    made = write_starter(folder, chosen)
    typer.echo(f"Made {' and '.join(str(path) for path in made)}. Every line of them is yours to change.")
    typer.echo("Next:")
    part = STARTERS[chosen.starter][1]
    for words in ("plan", f"measure FIRST-01 {part}", f"ticket FIRST-01 {part}", "serve"):
        typer.echo(f"  dryfit --shop {shlex.quote(str(folder))} {words}")


def _ask(said: dict[str, str | None], usual: Wanted) -> Wanted:
    """The five questions, but for those already answered by an option."""
    from drivers.frames import profiles
    from qa.starter import STARTERS, UNITS, Wanted

    def answer(key: str, question: str, fits: Callable[[str], str] = lambda text: "") -> str:
        given, ready = said[key], getattr(usual, key)
        return given if given is not None else _asked(question, ready, fits)

    name = answer("name", "What is the shop called?", lambda text: "" if text.strip() else "a name, please")
    unit = answer("unit", "Are lengths shown in mm or in?", _one_of(UNITS))
    typer.echo("".join(f"  {plan}: {what}\n" for plan, (what, _) in STARTERS.items()), nl=False)
    starter = answer("starter", "Which invented plan to start from?", _one_of(STARTERS))
    url = answer("caliper_url", "Where is the caliper (/dev/ttyUSB0, socket://host:port; Enter: typed)?")
    if url.strip():
        profile = answer("profile", "How does it write its readings?", _one_of(profiles()))
    else:
        profile = said["profile"] or usual.profile
    return Wanted(name, unit, starter, url.strip(), profile)


def _one_of(known: Collection[str]) -> Callable[[str], str]:
    return lambda text: "" if text in known else f"one of {', '.join(known)}"


def _asked(question: str, ready: str, fits: Callable[[str], str]) -> str:
    """Ask until the answer fits; Enter takes the one that is ready."""
    while True:
        text = str(typer.prompt(question, default=ready, show_default=bool(ready)))
        why = fits(text)
        if not why:
            return text
        typer.echo(f"Write {why}.")
