"""Asks a person how an own sheet is to be read: first what is not certain, then for a yes to all of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

import typer

from qa.cli.common import print_table
from qa.errors import LogError, LogProblem, ShopError

if TYPE_CHECKING:
    from qa.logs.sheets.layout import Layout
    from qa.logs.sheets.names import PlanNames
    from qa.logs.sheets.settling import Key, Question, Settled
    from qa.logs.sheets.sheet import Sheet
    from qa.shop import Shop

TABLES = {"columns": "--column", "same": "--same", "names": "--name"}
"""The tables of a layout, each with the option that says something in it."""
CELLS = 3
_WHAT = {
    "columns": "What does it hold (build, part, value, note ..., a name of the plan, or leave)",
    "same": "What is it in every row (or the name of the column that holds it)",
    "names": "What does the plan call it (or leave)",
}


def ask(
    sheet: Sheet, layout: Layout, names: PlanNames, shop: Shop, settle: Callable[[Layout], Settled]
) -> Settled:
    """Ask until nothing is open; then, unless it was kept before, show all of it until a person says yes.

    `settle` tells what follows from the answers so far. LogError where a person stops.
    """
    typer.echo(f"{sheet.path.name}, row {sheet.header_row}: the columns bear names of your own.")
    while True:
        settled = settle(layout)
        if settled.questions:
            layout = _answered(layout, settled.questions[0], sheet, names)
            continue
        if layout.source:
            return settled
        _show(sheet, settled, names, shop)
        decided = list(lines(settled.layout))
        numbers = map(str, range(1, len(decided) + 1))
        answer = _choose("Load it so, or change a line by its number", ("yes", "stop", *numbers), told=2)
        if answer == "yes":
            return settled
        if answer == "stop":
            raise refused(sheet, "was stopped")
        layout = _answered(layout, _again(*decided[int(answer) - 1]), sheet, names)


def ask_what_lasts(layout: Layout) -> list[str]:
    """What was said of every row of this sheet and holds for later ones with the same columns too."""
    from qa.logs.sheets.keeping import per_file

    said = per_file(layout)
    words = ", ".join(f"{key} {layout.same[key] or 'blank'}" for key in said)
    if said and typer.confirm(f"The same in every later sheet with these columns: {words}?"):
        return said
    return []


def lines(layout: Layout) -> Iterator[tuple[Key, str]]:
    """Everything that is decided, by table and key, in words."""
    for table in TABLES:
        for key, said in getattr(layout, table).items():
            yield (table, key), str(said)


def about(table: str, key: str) -> str:
    """A thing to decide, in words."""
    if table == "columns":
        return f"column {key!r}" if key else "which column holds the readings"
    return f"{key} of every row" if table == "same" else f"the name {key!r}"


def refused(sheet: Sheet, why: str) -> LogError:
    """One problem of an own sheet as a whole."""
    return LogError([LogProblem(sheet.path.name, sheet.header_row, "", "", why)])


def _show(sheet: Sheet, settled: Settled, names: PlanNames, shop: Shop) -> None:
    from qa.logs.sheets.examples import SHOWN, first_readings
    from qa.logs.sheets.rows import OwnSheet

    rows = [
        (str(number), about(*key), said or "blank", settled.why.get(key, "you said so"))
        for number, (key, said) in enumerate(lines(settled.layout), 1)
    ]
    print_table(("", "what", "is", "because"), rows)
    typer.echo("\nThe first readings, as they would be stored:")
    print_table(SHOWN, first_readings(OwnSheet(sheet, settled.layout, names), shop.zone(), shop.unit))
    typer.echo("")


def _again(key: Key, said: str) -> Question:
    from qa.logs.sheets.layout import CHOICES
    from qa.logs.sheets.settling import Question

    table, name = key
    return Question(key, f"now {said or 'blank'}", CHOICES.get(name, ()) if table == "same" else ())


def _answered(layout: Layout, question: Question, sheet: Sheet, names: PlanNames) -> Layout:
    """The layout with a person's answer; asked again until it can be one."""
    table, key = question.key
    if not key:
        return layout.with_("columns", _choose(about(table, key), sheet.columns), "value", names)
    cells = f" It holds {', '.join(sheet.cells(key)[:CELLS]) or 'nothing'}." if table == "columns" else ""
    typer.echo(f"{about(table, key)}: {question.why}{'' if question.why.endswith('?') else '.'}{cells}")
    while True:
        if question.choices:
            said = _choose("Which is it", question.choices)
        else:
            said = _typed(_WHAT[table], blank=table == "same")
        try:
            if table == "same" and said in sheet.columns:
                return layout.with_("columns", said, key, names)
            return layout.with_(table, key, said, names)
        except ShopError as error:
            typer.secho(f"   {error}", fg="yellow")


def _typed(question: str, blank: bool = False) -> str:
    """What a person types; asked again where it is nothing and may not be `blank`."""
    while True:
        typed = str(typer.prompt(question, default="", show_default=False)).strip()
        if typed or blank:
            return typed
        typer.secho("   Type one of these; Ctrl-C stops, and nothing is loaded.", fg="yellow")


def _choose(question: str, choices: Sequence[str], told: int | None = None) -> str:
    """One of the choices, by its name or by a beginning that no other has; so many of them are told."""
    words = {name or "blank": name for name in choices}
    while True:
        typed = _typed(f"{question}: {', '.join([*words][:told])}")
        near = [name for name in words if name.casefold().startswith(typed.casefold())]
        if typed in words or len(near) == 1:
            return words[typed if typed in words else near[0]]
        typer.secho(f"   {typed!r} is {'more than one' if near else 'none'} of them", fg="yellow")
