"""`dryfit load`: logs into the store."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import (
    SHOWN_PROBLEMS,
    JsonOption,
    ModelOption,
    QuietOption,
    ShopOption,
    open_shop,
    print_json,
)
from qa.cli.log_columns import Reader

if TYPE_CHECKING:
    from qa.logs.loading import Loaded


def add_to(app: typer.Typer) -> None:
    app.command()(load)


def load(
    files: Annotated[list[Path], typer.Argument(help="Logs in CSV, Parquet or XLSX.")],
    model: ModelOption = None,
    partial: Annotated[
        bool, typer.Option("--partial", help="Load the good rows; write the others to NAME.rejected.csv.")
    ] = False,
    accept_suspect: Annotated[
        bool, typer.Option("--accept-suspect", help="Load sizes that look like a slip of unit, marked.")
    ] = False,
    column: Annotated[
        list[str] | None,
        typer.Option(
            "--column", metavar="NAME=WHAT", help="What a column of your own holds: By=note. Repeatable."
        ),
    ] = None,
    same: Annotated[
        list[str] | None,
        typer.Option(
            "--same", metavar="WHAT=VALUE", help="What is the same in every row: unit=in. Repeatable."
        ),
    ] = None,
    name: Annotated[
        list[str] | None,
        typer.Option(
            "--name",
            metavar="YOURS=NAME",
            help="The plan's name for one of yours: TB=tail-block; or Mean=leave. Repeatable.",
        ),
    ] = None,
    sheet: Annotated[
        str, typer.Option("--sheet", metavar="NAME", help="The sheet of a workbook; else its first.")
    ] = "",
    yes: Annotated[bool, typer.Option("--yes", help="Take what is proposed for your own columns.")] = False,
    show: Annotated[
        bool, typer.Option("--show", help="Only show how it would be read, and its first readings.")
    ] = False,
    shop: ShopOption = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Load logs of readings: every row is checked first.

    All rows are loaded, or with any problem none. Of a workbook one sheet is read. Rows are numbered as a
    spreadsheet shows them: the header is row 1. The same file twice adds nothing. A sheet whose columns bear
    names of your own is shown as it would be read, what is not certain is asked, and the answers are kept in
    the shop's folder under sheets: the next one with that header asks nothing.

    Example: dryfit load march.csv
    """
    from qa.errors import LogError
    from qa.logs.loading import Loaded
    from qa.logs.loading import load as load_logs

    with open_shop(shop) as (found, store):
        at_terminal = sys.stdin.isatty() and sys.stdout.isatty() and not (as_json or yes)
        given = {"columns": column or [], "same": same or [], "names": name or []}
        reader = Reader(found, model, given, sheet, yes, at_terminal, quiet or as_json)
        if show:
            reader.show(files)
            return
        try:
            result = load_logs(
                reader.logs(files),
                found,
                store,
                model=model,
                partial=partial,
                accept_suspect=accept_suspect,
                sheet=sheet,
                progress=(lambda rows: None) if quiet else _progress,
            )
        except LogError as error:
            result = Loaded(problems=list(error.problems))
            partial = False
    refused = bool(result.problems) and not partial
    if as_json:
        counts = {name: getattr(result, name) for name in ("rows", "loaded", "duplicates", "rejected")}
        print_json(counts | {"problems": [asdict(problem) for problem in result.problems]})
    _tell(result, refused, quiet=quiet or as_json)
    if refused:
        raise typer.Exit(2)


def _progress(rows: int) -> None:
    if sys.stderr.isatty() and rows >= 50_000:
        typer.echo(f"\r{rows:,} rows checked", err=True, nl=False)


def _tell(result: Loaded, refused: bool, quiet: bool) -> None:
    end = "; nothing was loaded" if refused else ""
    for number, problem in enumerate(result.problems[:SHOWN_PROBLEMS], 1):
        last = number == len(result.problems)
        typer.echo(f"dryfit: {problem}{end if last else ''}", err=True)
    more = max(len(result.problems), result.rejected) - SHOWN_PROBLEMS
    if more > 0:
        typer.echo(f"dryfit: ... and {more} more{end}", err=True)
    if refused or quiet:
        return
    words = [f"{result.loaded} readings loaded"]
    words += [f"{result.duplicates} were there already"] if result.duplicates else []
    files = ", ".join(map(str, result.rejected_files))
    words += [f"{result.rejected} rejected, see {files}"] if result.rejected else []
    typer.echo(f"{result.rows} rows: {', '.join(words)}.")
