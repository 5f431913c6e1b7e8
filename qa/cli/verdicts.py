"""`dryfit check`: the verdicts on what has been measured."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import (
    JsonOption,
    ShopOption,
    age_hours,
    open_shop,
    print_json,
    print_table,
    rounded,
    shown,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from qa.checking import Air
    from qa.judge import Judged, JudgedBuild, JudgedPart
    from qa.record import BenchReading

COLOURS = {
    "conforms": "blue",
    "does not conform": "red",
    "undecided": "yellow",
    "not measured": "bright_black",
}
MARKS = {"conforms": "●", "does not conform": "✕", "undecided": "▲", "not measured": "–"}


def add_to(app: typer.Typer) -> None:
    app.command()(check)


def check(
    build: Annotated[str | None, typer.Argument(help="A build; all without it.")] = None,
    part: Annotated[str | None, typer.Argument(help="A part; all without it.")] = None,
    budget: Annotated[
        bool, typer.Option("--budget", help="Show what makes each value uncertain, largest first.")
    ] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Judge what has been measured against its plan.

    Exit status 1 where anything is not fit, 2 where a build cannot be judged; the others still are.

    Example: dryfit check OM-16 tail-block
    """
    from qa.checking import Checked, air, check_each
    from qa.checking import check as judge
    from qa.cli.budgets import print_budgets

    with open_shop(shop) as (found, store):
        every = build is None
        told = check_each(found, store, part=part) if every else Checked(judge(found, store, build, part))
        judged, problems = told.builds, told.problems
        if as_json:
            airs = {item.build: air(found, store, item.build) for item in judged}
            documents = [_build_document(item, airs[item.build], budget) for item in judged]
    if as_json:
        left_out = [{"build": name, "why": why} for name, why in problems]
        print_json({"builds": documents} | ({"not_judged": left_out} if left_out else {}))
    elif judged or not problems:
        _print(judged, found.unit, parts=not every)
        if budget:
            print_budgets(judged, found.unit)
    for name, why in problems:
        typer.echo(f"dryfit: {name} cannot be judged: {why}", err=True)
    if problems or not all(item.fit for item in judged):
        raise typer.Exit(2 if problems else 1)


def _print(judged: Sequence[JudgedBuild], unit: str, parts: bool) -> None:
    if not judged:
        typer.echo("Nothing has been measured yet: dryfit measure BUILD PART, or dryfit load FILE.")
    for item in judged:
        typer.secho(f"{item.build} ({item.model}, plan revision {item.plan[:8]})", bold=True)
        if parts:
            for one in item.parts:
                _print_part(one, unit)
        else:
            rows = [(f"  {MARKS[one.verdict]} {one.part}", _verdict_words(one)) for one in item.parts]
            print_table(("  part", "verdict"), rows)


def _verdict_words(part: JudgedPart) -> str:
    """The verdict on a part, with the characteristics that keep it from being fit."""
    if part.fit:
        return "fit"
    named: dict[str, list[str]] = {}
    for item in part.characteristics:
        if item.verdict != "conforms":
            named.setdefault(item.verdict, []).append(item.place)
    return "; ".join(f"{verdict}: {', '.join(places)}" for verdict, places in named.items())


def _print_part(part: JudgedPart, unit: str) -> None:
    from qa.bench.speech import say_held

    typer.echo("")
    fit = "fit" if part.fit else "not fit"
    typer.secho(f"{part.part}: {fit}", fg="blue" if part.fit else "red")
    head = ("", "characteristic", "station", "value", "target", "deviation", "lower", "upper", "u", "verdict")
    print_table(head, [_judged_row(item, unit) for item in part.characteristics])
    for why in dict.fromkeys(item.in_doubt for item in part.characteristics if item.in_doubt):
        typer.secho(f"in doubt: {why}; the readings stay as they are, read them again", fg="yellow")
    for row in part.held:
        typer.secho(f"held: {say_held(row, unit)}", fg="yellow")


def _judged_row(item: Judged, unit: str) -> tuple[str, ...]:
    """One verdict as the cells of a table, lengths in the shop's unit."""
    amounts = (item.value, item.target, item.deviation, item.lower, item.upper, item.standard_uncertainty)
    cells = [shown(amount, item.unit, unit) for amount in amounts]
    if item.deviation is not None and item.deviation > 0:
        cells[2] = f"+{cells[2]}"
    told = f"{item.verdict}: {item.why}" if item.why else str(item.verdict)
    if item.in_doubt and item.value is not None:
        told += f"; in doubt, {shown(item.value - item.off, item.unit, unit)} without the instrument's error"
    return (MARKS[item.verdict], item.characteristic, item.station or "", *cells, told)


def _build_document(
    judged: JudgedBuild, airs: Mapping[str, Air] | None = None, budget: bool = False
) -> dict[str, object]:
    """A build's verdicts as JSON, with what the room's air says of them and their budgets where asked."""
    known = airs or {}
    return {
        "build": judged.build,
        "model": judged.model,
        "plan": judged.plan,
        "fit": judged.fit,
        "parts": [
            {
                "part": part.part,
                "fit": part.fit,
                "held": [_held_document(row) for row in part.held],
                "characteristics": [
                    _judged_document(item) | _more(item, known.get(part.part), budget)
                    for item in part.characteristics
                ],
            }
            for part in judged.parts
        ],
    }


def _held_document(row: BenchReading) -> dict[str, object]:
    """A doubted reading that waits for an answer, as JSON."""
    return {
        "characteristic": row.characteristic,
        "station": row.station or None,
        "value": rounded(row.value),
        "unit": row.unit,
        "taken_at": row.taken_at,
        "why": row.suspect,
    }


def _more(item: Judged, air: Air | None, budget: bool) -> dict[str, object]:
    """What stands beside a verdict: how old it is, the air then, what it is at the reference climate."""
    from qa.cli.budgets import budget_document

    place = (item.characteristic, item.station or "")
    moved = air.moved.get(place) if air else None
    found: dict[str, object] = {
        "age_hours": age_hours(item.taken_at) if item.taken_at else None,
        "rh_percent": air.rh_percent.get(place) if air else None,
        "at_reference": None,
    }
    if moved is not None:
        found["at_reference"] = {
            "rh_percent": moved.to_rh,
            "value": rounded(moved.size + moved.moved),
            "moves": rounded(moved.moved),
            "within": moved.within,
            "rh_window": [rounded(edge) for edge in moved.window] if moved.window else None,
        }
    return found | (budget_document(item) if budget else {})


def _judged_document(item: Judged) -> dict[str, object]:
    """One verdict as JSON: amounts in `unit`."""
    return {
        "characteristic": item.characteristic,
        "station": item.station,
        "kind": item.kind,
        "value": rounded(item.value),
        "unit": item.unit,
        "target": item.target,
        "lower": item.lower,
        "upper": item.upper,
        "deviation": rounded(item.deviation),
        "standard_uncertainty": rounded(item.standard_uncertainty),
        "conformance_probability": rounded(item.conformance_probability),
        "verdict": str(item.verdict),
        "taken_at": item.taken_at,
        "why": item.why,
        "in_doubt": item.in_doubt or None,
        "without_error": rounded(item.value - item.off) if item.in_doubt and item.value is not None else None,
    }
