"""`dryfit caliper study` and `dryfit caliper climate`: what meters and repeats put on record."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import (
    JsonOption,
    ModelOption,
    ShopOption,
    open_shop,
    print_json,
    print_table,
    shop_of,
)

if TYPE_CHECKING:
    from qa.calipers.study import Study


def study(
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE.csv",
            help="Columns part, appraiser, trial, value (mm), and species if you like; guided, a new one.",
        ),
    ] = None,
    tolerance: Annotated[
        float | None, typer.Option("--tolerance", help="Plus-minus, mm: can it judge that?")
    ] = None,
    reference: Annotated[
        float | None, typer.Option("--reference", help="The known size that was read, mm: how far off?")
    ] = None,
    compliance: Annotated[
        bool,
        typer.Option("--compliance", help="The appraisers are light and firm: how far does the wood give?"),
    ] = False,
    species: Annotated[
        str, typer.Option("--species", metavar="WOOD", help="The wood it was done on, or any.")
    ] = "",
    keep: Annotated[
        str | None, typer.Option("--keep", metavar="ID", help="Keep the repeatability for that instrument.")
    ] = None,
    instrument: Annotated[
        str | None, typer.Option("--instrument", metavar="ID", help="Be guided through readings by that one.")
    ] = None,
    part: Annotated[
        str | None, typer.Option("--part", help="Guided: at the stations of that part, on its wood.")
    ] = None,
    model: ModelOption = None,
    appraiser: Annotated[
        list[str] | None, typer.Option("--appraiser", help="Guided: who reads in turn. Repeatable.")
    ] = None,
    trials: Annotated[
        int | None, typer.Option("--trials", min=2, max=100, help="Guided: how often each place is read.")
    ] = None,
    typed: Annotated[bool, typer.Option("--typed", help="Type the readings although it has a line.")] = False,
    step: Annotated[float, typer.Option("--step", help="The step of its display, mm.")] = 0.01,
    by: Annotated[str, typer.Option("--by", help="Who read.")] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say how well a caliper repeats in your hands.

    It says too what tolerance that can prove. Several appraisers (people, or calipers) reading several parts
    make a crossed study; ten readings of one part will do for one. Take the jaws off and set them anew
    between readings. With --keep the repeatability feeds every later verdict on that wood in place of that in
    shop.toml: a part is judged by the study of its species, else by the one of any wood, else by the largest
    known. With --instrument it asks for each reading, and FILE.csv is where they are put down as they come.
    Exit status 1 where it cannot judge --tolerance.

    Example: dryfit caliper study cherry.csv --tolerance 0.25 --species cherry --keep CAL-1
    """
    from qa.calipers.study import USABLE, analyse
    from qa.calipers.study_file import read_study
    from qa.calipers.words import study_document
    from qa.cli.caliper_asking import aside
    from qa.cli.caliper_guided import course_of, guided
    from qa.errors import CannotSay, ShopError

    for name, value in (("--tolerance", tolerance), ("--step", step)):
        if value is not None and not 0 < value < 1000:
            raise CannotSay(f"{name} must be above 0 mm, got {value:g}")
    if instrument:
        found = shop_of(shop)
        course = course_of(found, instrument, part, model, appraiser, trials, compliance, species)
        with aside(as_json):
            told = guided(found, instrument, course, file, typed)
    elif file is None:
        raise ShopError("give the file of a study, or --instrument ID to be guided through one")
    else:
        told = read_study(file)
    made = analyse(told, tolerance, reference, compliance, step, species)
    if keep:
        made = _keep(made, keep, "guided" if file is None else file.name, by, shop)
    if as_json:
        print_json(study_document(made, tolerance) | {"kept": keep})
    else:
        _print_study(made, tolerance, keep)
    if tolerance is not None and any(item.share(tolerance) > USABLE for item in made.repeats):
        raise typer.Exit(1)


def _print_study(made: Study, tolerance: float | None, kept: str | None) -> None:
    from qa.calipers.study_words import say_kept
    from qa.calipers.words import component_table, say

    for line in [*say(made, tolerance), *(f"Note: {note}." for note in made.notes)]:
        typer.echo(line)
    if made.crossed is not None:
        head, *rows = component_table(made.crossed)
        print_table(head, rows)
    if kept:
        typer.secho(say_kept(kept, made.species), fg="blue")


def _keep(made: Study, instrument: str, source: str, by: str, shop: str | None) -> Study:
    """Keep a study, and give it with its wood named as the shop names it."""
    from qa.calipers.study_keeping import keep_study
    from qa.calipers.study_wood import wood_of

    with open_shop(shop) as (found, store):
        made = replace(made, species=wood_of(found, made.species))
        keep_study(store, made, found.instrument(instrument), source, by, among=found.instruments)
    return made


def climate(
    rh: Annotated[float | None, typer.Option("--rh", help="Relative humidity as shown, %.")] = None,
    temp: Annotated[float | None, typer.Option("--temp", help="Temperature, °C.")] = None,
    moisture: Annotated[
        float | None, typer.Option("--moisture", help="Moisture of a piece of wood as shown, %.")
    ] = None,
    instrument: Annotated[
        str | None, typer.Option("--instrument", metavar="ID", help="The meter: its correction is added.")
    ] = None,
    wood: Annotated[bool, typer.Option("--wood", help="The meter's line gives moisture of wood.")] = False,
    note: Annotated[str, typer.Option("--note", help="Kept with it.")] = "",
    by: Annotated[str, typer.Option("--by", help="Who read.")] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Keep the room's air, or wood's moisture, as a meter shows it.

    A meter with a line in shop.toml is heard where no figure is given. What it showed and what it is with its
    correction are both kept; the gate before glue-up takes the newest.

    Example: dryfit caliper climate --rh 44 --temp 20 --instrument HYGRO-1
    """
    from qa.calipers.climate import keep_climate
    from qa.cli.caliper_asking import hear_one

    with open_shop(shop) as (found, store):
        meter = found.instrument(instrument) if instrument else None
        if meter is not None and meter.url and rh is None and moisture is None:
            heard = float(hear_one(found, meter))
            rh, moisture = (None, heard) if wood else (heard, None)
        kept = keep_climate(store, meter, rh=rh, temp=temp, moisture=moisture, text=note, by=by)
    if as_json:
        print_json({"instrument": instrument, **kept})
        return
    for name, what in (("rh", "RH"), ("moisture", "moisture of wood")):
        if f"{name}_percent" in kept:
            shown, is_then = kept[f"{name}_read"], kept[f"{name}_percent"]
            corrected = "" if shown == is_then else f" (shown {shown:g} %)"
            typer.echo(
                f"kept: {what} {is_then:g} %{corrected}" + (f", {temp:g} °C" if temp is not None else "")
            )
