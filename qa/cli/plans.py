"""`dryfit plan`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, ShopOption, print_json, print_table, rounded, shop_of, shown

if TYPE_CHECKING:
    from collections.abc import Sequence

    from qa.characteristics.base import Characteristic
    from qa.plans.plan import Part, Plan
    from qa.shop import Shop


def add_to(app: typer.Typer) -> None:
    app.command()(plan)


def plan(
    name: Annotated[str | None, typer.Argument(help="A model or a plan's file; all without it.")] = None,
    draw: Annotated[
        Path | None, typer.Option("--draw", metavar="FILE", help="Draw every part to scale on an HTML page.")
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Check the plans, and say what to read where.

    Limits, blank sizes and rounding traps are told with it. With --draw each part's face and stations are
    drawn too; a file that is there is not replaced.

    Example: dryfit plan octave-mandolin --draw faces.html
    """
    from qa.plans.rounding_traps import traps

    found = shop_of(shop)
    wanted = [found.plan(found.model(name))] if name else [found.plan(model) for model in found.plans]
    if not wanted:
        found.model()
    if draw:
        _draw(draw, wanted, found.unit)
    if as_json:
        print_json({"plans": [_document(item, found) for item in wanted]})
        return
    for item in wanted:
        _print_plan(item, found)
        for trap in traps(item):
            typer.secho(f"rounding trap: {trap}", err=True, fg="yellow")


def _draw(file: Path, wanted: Sequence[Plan], unit: str) -> None:
    from qa.paper.html import faces_page

    with file.open("x", encoding="utf-8") as page:
        page.write(faces_page(wanted, unit))


def _print_plan(plan: Plan, shop: Shop) -> None:
    from qa.plans.mate_words import say_mate

    typer.secho(f"{plan.model} (plan {plan.name}, revision {plan.digest[:8]})", bold=True)
    climate = plan.reference
    low, high = climate.glue_rh_percent
    typer.echo(
        f"sizes hold at {climate.rh_percent:g} % RH, {climate.temp_c:g} °C; glue at {low:g} to {high:g} % RH"
    )
    for part in plan.parts.values():
        species = f", {part.species}" if part.species else ""
        typer.echo("")
        typer.secho(f"{part.name}: {part.title}{species}", bold=True)
        rows = [_row(item, shop.unit) for item in part.characteristics.values()]
        print_table(("characteristic", "kind", "target", "lower", "upper", "read at"), rows)
        _print_readings(part, shop.unit)
        for mate in part.mates:
            typer.echo(f"  mate {say_mate(mate, part, plan.parts, shop.unit)}")
        _print_blanks(plan, part, shop)


def _print_readings(part: Part, unit: str) -> None:
    """What is read where that is not the judged value itself."""
    from qa.bench.speech import say_reading

    for item in part.characteristics.values():
        told = say_reading(item, unit)
        if told:
            typer.echo(f"  read for {item.name}: {told}")


def _print_blanks(plan: Plan, part: Part, shop: Shop) -> None:
    from qa.bench.speech import amount
    from qa.errors import CannotSay
    from qa.plans.blank import blanks

    def length(mm: float) -> str:
        return amount(mm, "mm", shop.unit)

    try:
        found = blanks(part, plan.reference, shop.species())
    except CannotSay as error:
        typer.secho(f"  blank: cannot be told: {error}", fg="yellow")
        return
    for blank in found:
        terms = "".join(f" + {length(item.amount)} {item.name}" for item in blank.allowances)
        typer.echo(
            f"  blank {blank.size}: cut to {length(blank.cut)} = {length(blank.finished)} finished{terms}"
        )
        if blank.kerf:
            kerf = f"{length(blank.kerf.amount)} kerf ({blank.kerf.formula})"
            typer.echo(f"    stock {length(blank.stock)}: with {kerf}")
        for item in blank.allowances:
            if item.formula:
                typer.secho(f"    {item.name}: {item.formula}", dim=True)


def _row(item: Characteristic, unit: str) -> tuple[str, ...]:
    from qa.characteristics.base import in_units

    amounts = (item.target, item.lower, item.upper)
    places = ", ".join(station.name for station in item.stations if station.name)
    where = f"computed from {item.of}" if item.of else places or "once"
    return (item.name, item.kind, *(shown(in_units(n), item.unit, unit) for n in amounts), where)


def _document(plan: Plan, shop: Shop) -> dict[str, object]:
    from qa.plans.rounding_traps import traps

    return {
        "plan": plan.name,
        "model": plan.model,
        "revision": plan.digest,
        "parts": [_part(part) | _blanks(plan, part, shop) for part in plan.parts.values()],
        "warnings": traps(plan),
    }


def _blanks(plan: Plan, part: Part, shop: Shop) -> dict[str, object]:
    from qa.errors import CannotSay
    from qa.plans.blank import blanks

    try:
        found = blanks(part, plan.reference, shop.species())
    except CannotSay as error:
        return {"blank": [], "blank_why": str(error)}
    return {
        "blank": [
            {
                "size": item.size,
                "finished": rounded(item.finished),
                "allowances": [
                    {"name": each.name, "amount": rounded(each.amount), "formula": each.formula or None}
                    for each in (*item.allowances, *([item.kerf] if item.kerf else []))
                ],
                "cut": rounded(item.cut),
                "stock": rounded(item.stock),
                "unit": "mm",
            }
            for item in found
        ]
    }


def _part(part: Part) -> dict[str, object]:
    from qa.bench.speech import say_reading
    from qa.characteristics.base import in_units

    return {
        "part": part.name,
        "title": part.title,
        "species": part.species,
        "characteristics": [
            {
                "characteristic": item.name,
                "kind": item.kind,
                "unit": item.unit,
                "target": in_units(item.target),
                "lower": in_units(item.lower),
                "upper": in_units(item.upper),
                "of": item.of,
                "stations": {s.name: [s.x, s.y] for s in item.stations if s.name},
                "reads": say_reading(item, "mm") or None,
            }
            for item in part.characteristics.values()
        ],
        "mates": [
            {
                "mate": mate.name,
                "size": mate.size,
                "part": mate.part,
                "size_of": mate.size_of,
                "gap_lower": in_units(mate.lower),
                "gap_upper": in_units(mate.upper),
            }
            for mate in part.mates
        ],
    }
