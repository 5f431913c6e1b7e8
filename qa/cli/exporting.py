"""`dryfit export`: the record as tables for other programs."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from qa.cli.common import QuietOption, ShopOption, open_shop


class What(StrEnum):
    """The tables."""

    READINGS = "readings"
    RECORD = "record"
    VERDICTS = "verdicts"
    DRIFT = "drift"
    EVENTS = "events"
    DICTIONARY = "dictionary"


class Form(StrEnum):
    """The forms of a file."""

    CSV = "csv"
    PARQUET = "parquet"
    XLSX = "xlsx"
    JSONL = "jsonl"


def add_to(app: typer.Typer) -> None:
    app.command()(export)


def export(
    file: Annotated[
        Path | None,
        typer.Argument(help="The file, with or without its ending; - for stdout; else WHAT.FORMAT in --out."),
    ] = None,
    what: Annotated[What, typer.Option("--what", help="Which table.")] = What.READINGS,
    form: Annotated[
        Form | None, typer.Option("--format", help="How it is written; else by the file's ending, else CSV.")
    ] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="A folder for the file.")] = None,
    build: Annotated[str | None, typer.Option("--build", help="Only this build.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file where it is there.")] = False,
    quiet: QuietOption = False,
    shop: ShopOption = None,
) -> None:
    """Write a table of the record into a file.

    --what chooses it: readings are those that count, record is all there ever were. --what dictionary
    explains every column. A build that cannot be judged is left out of verdicts and drift, and named; exit
    status 2 then. `dryfit load` reads exported readings again. In CSV a text that a spreadsheet could take
    for a formula has an apostrophe in front, and column apostrophe_added says so.

    Example: dryfit export readings.parquet
    """
    from qa.errors import QaError
    from qa.export.files import file_and_form, write_file, write_text
    from qa.export.tables import table

    if file is not None and out is not None:
        raise QaError("give either a file or --out with a folder, not both")
    if to_stdout := file == Path("-"):
        target, chosen = Path("-"), str(form or Form.CSV)
    else:
        named = file or (out or Path()) / f"{what}.{form or Form.CSV}"
        target, chosen = file_and_form(named, what, form)
    with open_shop(shop) as (found, store):
        left_out: list[tuple[str, str]] = []
        rows = table(what, found, store, build, left_out)
        if to_stdout:
            write_text(what, rows, sys.stdout, chosen)
        else:
            count = write_file(what, rows, target, chosen, force)
    if not (quiet or to_stdout):
        typer.echo(f"Wrote {count} rows of {what} to {target}.")
    for name, why in left_out:
        typer.echo(f"dryfit: {name} cannot be judged and is left out: {why}", err=True)
    if left_out:
        raise typer.Exit(2)
