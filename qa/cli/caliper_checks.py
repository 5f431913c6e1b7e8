"""`dryfit caliper check`: how far an instrument is off, and which verdicts that changes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, ShopOption, open_shop, print_json, print_table, rounded, shown

if TYPE_CHECKING:
    from qa.calipers.check import Changed, Rejudged
    from qa.calipers.standing import Check
    from qa.instruments import Instrument

IdArgument = Annotated[str, typer.Argument(metavar="ID", help="An instrument of shop.toml.")]


def check(
    instrument: IdArgument,
    reference: Annotated[
        list[str] | None, typer.Option("--reference", help="A known size; 0 is the jaws closed. Repeatable.")
    ] = None,
    reading: Annotated[
        list[str] | None, typer.Option("--reading", help="What it showed there, in the same order.")
    ] = None,
    adjusted: Annotated[
        bool, typer.Option("--adjusted", help="Read after it was cleaned or set, not as it was found.")
    ] = False,
    uncertainty: Annotated[
        float | None,
        typer.Option(
            "--uncertainty", min=0, help="Standard uncertainty of the known sizes, in mm, % or degrees."
        ),
    ] = None,
    typed: Annotated[bool, typer.Option("--typed", help="Type the readings although it has a line.")] = False,
    note: Annotated[str, typer.Option("--note", help="Kept with the check.")] = "",
    by: Annotated[str, typer.Option("--by", help="Who checked.")] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Check an instrument on known sizes.

    What was read since its last good check is judged again. Without readings it asks for them: jaws closed
    first, then the blocks you name; an instrument with a line is heard. Numbers without a unit are in the
    shop's. Check it as it is found, before cleaning or setting it: only that tells what its readings were
    worth. Then set it and check again with --adjusted. No reading is ever rewritten. Exit status 1 where it
    is further off than its permissible error.

    Example: dryfit caliper check CAL-1 --reference 0 --reading 0.00 --reference 25.00 --reading 25.01
    """
    from qa.calipers.check import keep_check, rejudge
    from qa.calipers.check_words import NO_CHECK_BEFORE
    from qa.calipers.known_sizes import pairs_of, typed_unit
    from qa.calipers.standing import no_check_before
    from qa.cli.caliper_asking import aside, ask_for_readings

    with open_shop(shop) as (found, store):
        chosen = found.instrument(instrument)
        if reference or reading:
            pairs = pairs_of(reference or [], reading or [], typed_unit(chosen.unit, found.unit))
        else:
            with aside(as_json):
                pairs = ask_for_readings(found, chosen, typed)
        made = keep_check(store, chosen, pairs, adjusted=adjusted, text=note, by=by, reference_u=uncertainty)
        again = rejudge(found, store, chosen, made)
        unfound = no_check_before(made, chosen, store.events("check"))
        unit = found.unit
    if as_json:
        print_json(check_document(chosen, made, again))
    else:
        _print_check(chosen, made, unit)
        print_again(again, unit)
        if unfound:
            typer.secho(NO_CHECK_BEFORE, fg="yellow")
    if not made.passed(chosen):
        raise typer.Exit(1)


def _print_check(instrument: Instrument, check: Check, unit: str) -> None:
    from qa.bench.speech import signed
    from qa.calipers.check_words import say_bias, say_check, say_point

    typer.secho(f"{instrument.id}, checked {check.state}", bold=True)
    limit = instrument.max_permissible_error
    rows = [
        (
            shown(point.reference, instrument.unit, unit),
            shown(point.reading, instrument.unit, unit),
            signed(point.error, instrument.unit, unit),
            say_point(point, instrument),
        )
        for point in check.points
    ]
    print_table(("reference", "reading", "error", f"(permitted {shown(limit, instrument.unit, unit)})"), rows)
    for line in say_bias(instrument, check, unit):
        typer.echo(line)
    typer.secho(say_check(instrument, check), fg="blue" if check.passed(instrument) else "red")


def print_again(again: Rejudged | None, unit: str) -> None:
    """What a failed check throws doubt on, and the verdicts that change, the worst first."""
    from qa.calipers.check_words import NOT_REWRITTEN, say_again
    from qa.calipers.doubts import worst_first

    if again is None:
        return
    told, *more = say_again(again)
    if not again.builds:
        typer.echo(told)
        return
    typer.echo("")
    typer.secho(told, bold=True)
    for line in more:
        typer.echo(line)
    rows = [_changed_row(item, unit) for item in worst_first(again.changed)]
    if rows:
        print_table(("build", "part", "characteristic", "station", "read", "was", "without", "is then"), rows)
    typer.echo(NOT_REWRITTEN)


def _changed_row(item: Changed, unit: str) -> tuple[str, ...]:
    place = (item.build, item.part, item.characteristic, item.station or "")
    read, corrected = (shown(value, item.unit, unit) for value in (item.value, item.corrected))
    return (*place, read, str(item.before), corrected, str(item.after))


def check_document(instrument: Instrument, check: Check, again: Rejudged | None) -> dict[str, object]:
    """A check, what it says of the error, and what a failed one throws doubt on, as JSON."""
    from qa.calipers.check import due

    bias, line = check.bias(instrument), check.bias(instrument).line
    next_day = due(instrument, check)
    return {
        "instrument": instrument.id,
        "at": check.at,
        "state": check.state,
        "passed": check.passed(instrument),
        "unit": instrument.unit,
        "permissible_error": instrument.max_permissible_error,
        "points": [
            {"reference": p.reference, "reading": rounded(p.reading), "error": rounded(p.error)}
            for p in check.points
        ],
        "bias": {
            "mean": rounded(bias.mean),
            "standard_uncertainty": rounded(bias.u_mean),
            "offset": line and rounded(line.intercept),
            "offset_standard_uncertainty": line and rounded(line.u_intercept),
            "scale": line and rounded(line.slope),
            "scale_standard_uncertainty": line and rounded(line.u_slope),
            "scale_shown": bias.scaled,
            "straight": bias.straight,
            "from": bias.low,
            "to": bias.high,
        },
        "due": next_day.isoformat() if next_day else None,
        "rejudged": again and _again_document(again),
    }


def _again_document(again: Rejudged) -> dict[str, object]:
    """What a failed check throws doubt on, as JSON."""
    return {
        "since": again.since,
        "until": again.until,
        "readings": again.readings,
        "not_between_jaws": again.left,
        "builds": list(again.builds),
        "changed": [
            {
                "build": item.build,
                "part": item.part,
                "characteristic": item.characteristic,
                "station": item.station,
                "unit": item.unit,
                "before": str(item.before),
                "after": str(item.after),
                "value": rounded(item.value),
                "without_error": rounded(item.corrected),
            }
            for item in again.changed
        ],
    }
