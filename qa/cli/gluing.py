"""`dryfit advise` and `dryfit glueup`: the work before glue, and the gate."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, ShopOption, age_hours, open_shop, print_json, rounded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from qa.gate.advice import Advice
    from qa.gate.gate import Gate, Note, Reason
    from qa.gate.gluing import Clamped
    from qa.gate.movement import Moved

BuildArgument = Annotated[str, typer.Argument(help="The build.")]
PartArgument = Annotated[str, typer.Argument(help="The part.")]
MOST = 100_000
"""More minutes, ten weeks, no glue asks for."""


def add_to(app: typer.Typer) -> None:
    app.command()(advise)
    app.command()(glueup)


def advise(
    build: BuildArgument,
    part: PartArgument,
    characteristic: Annotated[
        str | None, typer.Option("--characteristic", help="A size; else the one that needs work most.")
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what to take off a part, where, in how many passes.

    It says so too where planing cannot save the part. Exit status 1 where planing cannot bring it inside its
    limits, or it is not wholly measured.

    Example: dryfit advise OM-16 tail-block
    """
    from qa.bench.planing import last_planed
    from qa.calipers.in_shop import instruments_of
    from qa.checking import plan_of
    from qa.errors import ShopError
    from qa.gate.advice import CAUTION
    from qa.gate.advice import advise as advise_on
    from qa.gate.advice_words import say
    from qa.plans.plan import unknown
    from qa.plans.revisions import Revisions

    with open_shop(shop) as (found, store):
        if store.build(build) is None:
            raise ShopError(unknown("build", build, store.builds()))
        plan = plan_of(found, store, build)
        planed_at = last_planed(store.events(build=build, part=part), part)
        rows = Revisions.kept(store.plan_text).asked_now(store.readings(build, part), plan)
        advice = advise_on(plan.part(part), rows, instruments_of(found, store), planed_at)
    if characteristic:
        names = [item.characteristic for item in advice]
        if characteristic not in names:
            raise ShopError(unknown(f"measured size of {part}", characteristic, names))
        advice = [item for item in advice if item.characteristic == characteristic]
    if not advice:
        raise ShopError(f"no size of {build} {part} has been measured yet: dryfit measure {build} {part}")
    if as_json:
        documents = [_advice(build, part, item, say(item, found.unit)) for item in advice]
        print_json(documents[0] | {"sizes": documents})
    else:
        for item in advice:
            typer.echo(say(item, found.unit))
        if any(value > 0 for item in advice for value in item.take_off.values()):
            typer.secho(CAUTION, dim=True)
    if not all(item.feasible for item in advice):
        raise typer.Exit(1)


def _advice(build: str, part: str, item: Advice, words: str) -> dict[str, object]:
    return {
        "build": build,
        "part": part,
        "characteristic": item.characteristic,
        "feasible": item.feasible,
        "aim": rounded(item.aim),
        "take_off": {name: rounded(value) for name, value in item.take_off.items()},
        "passes": item.passes.likely if item.passes else None,
        "say": words,
    }


def glueup(
    build: BuildArgument,
    part: PartArgument,
    record: Annotated[bool, typer.Option("--record", help="Keep that it is glued now.")] = False,
    again: Annotated[
        bool, typer.Option("--again", help="With --record: it was glued before, and is glued again now.")
    ] = False,
    override: Annotated[
        str | None,
        typer.Option(
            "--override", metavar="REASON", help="Open a closed gate all the same; why is kept for ever."
        ),
    ] = None,
    rh: Annotated[
        float | None, typer.Option("--rh", min=1, max=99, help="The room's relative humidity, %.")
    ] = None,
    temp: Annotated[float | None, typer.Option("--temp", min=-1, max=60, help="Its temperature, °C.")] = None,
    glue: Annotated[str, typer.Option("--glue", help="Which glue.")] = "",
    batch: Annotated[str, typer.Option("--batch", help="Its batch, or the day it was opened.")] = "",
    open_minutes: Annotated[
        float | None,
        typer.Option("--open-minutes", min=0, max=MOST, help="From spreading the glue to clamping."),
    ] = None,
    clamp_minutes: Annotated[
        float | None, typer.Option("--clamp-minutes", min=0, max=MOST, help="In the clamps.")
    ] = None,
    clamps: Annotated[int | None, typer.Option("--clamps", min=0, help="How many clamps.")] = None,
    squeeze_out: Annotated[
        bool | None,
        typer.Option("--squeeze-out/--no-squeeze-out", help="Was glue seen along the whole joint?"),
    ] = None,
    note: Annotated[str, typer.Option("--note", help="Kept with the record.")] = "",
    by: Annotated[str, typer.Option("--by", help="Who decides.")] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say whether a part may be glued, why not, what is next.

    Exit status 1 while the gate before glue-up is closed. Glue is irreversible: do the dry fit with every
    clamp first, and follow the glue maker's instructions for open time, temperature, gloves and fresh air.
    A part that was glued up is recorded a second time only with --again.

    Example: dryfit glueup OM-16 tail-block --rh 45 --record --glue hide
    """
    from qa.errors import QaError
    from qa.gate.deciding import follows_on
    from qa.gate.deciding import glue as keep_glueup
    from qa.gate.gate import Climate
    from qa.gate.gluing import after_clamp, look
    from qa.gate.gluing import override as keep_override

    if again and not record:
        raise QaError("--again is for --record: say both to keep that it is glued again")
    climate = None if rh is None else Climate(rh, temp, "")
    with open_shop(shop) as (found, store):
        gate, planned = look(found, store, build, part, climate)
        follows = follows_on(store, build, part, again) if record else 0
        idle = override is not None and gate.open
        if override is not None and not gate.open:
            keep_override(store, gate, override, by)
            gate, planned = look(found, store, build, part, climate)
        recorded = record and gate.open
        if recorded:
            what = {
                "glue": glue,
                "batch": batch,
                "open_minutes": open_minutes,
                "clamp_minutes": clamp_minutes,
                "clamps": clamps,
                "squeeze_out": squeeze_out,
            }
            keep_glueup(found, store, build, part, follows, what, note, by, climate)
        clamped = after_clamp(found, store, build, planned)
    if as_json:
        print_json(_gate(gate, clamped, recorded))
    else:
        _print(gate, clamped, recorded, found.unit)
        if idle:
            typer.echo("The gate is open: nothing was overridden.")
    if not gate.open:
        raise typer.Exit(1)


def _gate(gate: Gate, clamped: Sequence[Clamped], recorded: bool) -> dict[str, object]:
    return {
        "build": gate.build,
        "part": gate.part,
        "gate": "open" if gate.open else "closed",
        "next": gate.next,
        "reasons": [{"about": item.about, "why": _told(item)} for item in gate.reasons],
        "overridden": gate.overridden,
        "override": gate.override or None,
        "notes": [_told(note) for note in gate.notes],
        "movement": [_movement_document(item) for item in gate.moved],
        "unpredicted": [{"about": name, "why": why} for name, why in gate.unpredicted.items()],
        "climate": _climate_document(gate),
        "after_clamp": [_clamped_document(item) for item in clamped],
        "recorded": recorded,
    }


def _told(item: Reason | Note) -> str:
    """Why, and the command for what it asks."""
    from qa.gate.reasons import INSTRUMENT

    checked = f"Check it: dryfit caliper check {item.about.removeprefix(INSTRUMENT)}"
    command = {
        "": "",
        "air": " Give it with --rh, or keep it: dryfit caliper climate --rh 45.",
        "check": f" {checked}.",
        "check again": f" {checked} --adjusted.",
    }
    return item.why + command[item.asks]


def _movement_document(item: Moved) -> dict[str, object]:
    """How the room's air will move one value, as JSON."""
    from qa.gate.reasons import about_place

    return {
        "about": about_place(item),
        "size": rounded(item.size),
        "rh_percent": item.rh,
        "taken_at": item.taken_at,
        "age_hours": age_hours(item.taken_at),
        "at_rh_percent": item.to_rh,
        "moves": rounded(item.moved),
        "size_at_reference": rounded(item.size + item.moved),
        "rh_window": [rounded(edge) for edge in item.window] if item.window else None,
    }


def _clamped_document(item: Clamped) -> dict[str, object]:
    """What clamping moved, as JSON."""
    return {
        "characteristic": item.characteristic,
        "before": rounded(item.before),
        "after": rounded(item.after),
        "moved": rounded(item.moved),
        "unit": item.unit,
        "standard_uncertainty": rounded(item.standard_uncertainty),
        "expanded_uncertainty": rounded(item.reach),
    }


def _climate_document(gate: Gate) -> dict[str, object] | None:
    """The room's air the gate went by, as JSON."""
    if gate.climate is None:
        return None
    return {
        "rh_percent": gate.climate.rh_percent,
        "temp_c": gate.climate.temp_c,
        "at": gate.climate.at or None,
    }


def _print(gate: Gate, clamped: Sequence[Clamped], recorded: bool, unit: str) -> None:
    from qa.gate.reading_words import span
    from qa.gate.words import say_clamped, say_movements, say_unpredicted

    word = "OPEN" if gate.open else "CLOSED"
    by_override = f" by override: {gate.override}" if gate.overridden else ""
    typer.secho(f"{gate.build} {gate.part}: the gate is {word}{by_override}. Next: {gate.next}.",
                bold=True, fg="blue" if gate.open else "red")  # fmt: skip
    for item in gate.reasons:
        typer.echo(f"  {item.next}: {_told(item)}")
    for note in gate.notes:
        typer.secho(f"  note: {_told(note)}", dim=True)
    if gate.climate is not None and gate.climate.at:
        age = span(dt.timedelta(hours=max(age_hours(gate.climate.at), 0.0)))
        typer.secho(f"  air: the room was at {gate.climate.rh_percent:g} % RH {age} ago", dim=True)
    for words in say_movements([item for item in gate.moved if abs(item.moved) >= 0.005], unit):
        typer.secho(f"  air: {words}", dim=True)
    if gate.moved and gate.unpredicted:
        typer.secho(f"  air: {say_unpredicted(gate.unpredicted)}", dim=True)
    for change in clamped:
        values = change.before, change.after, change.reach
        typer.echo(f"  clamping: {say_clamped(*values, change.characteristic, change.unit, unit)}")
    if recorded:
        typer.echo("The glue-up is recorded.")
