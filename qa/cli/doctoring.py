"""`dryfit doctor`: whether all is well with a shop and with what it runs on."""

from __future__ import annotations

from dataclasses import asdict

import typer

from qa.cli.common import JsonOption, ShopOption, print_json

MARKS = {"good": "●", "note": "–", "bad": "✕"}
COLOURS = {"good": None, "note": "bright_black", "bad": "red"}


def add_to(app: typer.Typer) -> None:
    app.command()(doctor)


def doctor(shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """Look over the shop, and say what to mend.

    Plans, store, instruments, clock, disk and versions; exit status 1 where any is bad. Nothing is changed.
    Where you ask for help, its answer is what to send along.

    Example: dryfit doctor
    """
    from qa.doctor import examine
    from qa.shop import find_folder

    found = examine(find_folder(shop))
    bad = [item for item in found if item.level == "bad"]
    if as_json:
        print_json({"well": not bad, "findings": [asdict(item) for item in found]})
    else:
        for item in found:
            typer.secho(f"{MARKS[item.level]} {item.about}: {item.says}", fg=COLOURS[item.level])
        typer.secho("All is well." if not bad else f"{len(bad)} to mend, marked ✕.", bold=True)
    if bad:
        raise typer.Exit(1)
