"""`dryfit caliper status`: which instruments may be believed, and what they can prove."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, ShopOption, open_shop, print_json, print_table, rounded, shown

if TYPE_CHECKING:
    from collections.abc import Sequence

    from qa.calipers.check import Rejudged
    from qa.calipers.standing import Check
    from qa.calipers.status import Standing
    from qa.instruments import Instrument
    from qa.shop import Shop
    from qa.store.store import Store

    Found = tuple[Check, Rejudged | None]


def status(
    instrument: Annotated[
        str | None, typer.Argument(metavar="ID", help="One instrument, with all its checks.")
    ] = None,
    size: Annotated[
        float | None, typer.Option("--size", min=0, help="How large the reading in question is, mm.")
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say which instruments may be believed.

    It says too what one reading of each can prove. With an ID every check of it is listed, and what each
    failed one throws doubt on: the builds, and the verdicts that change with its error taken off. Exit status
    1 where one has failed or is overdue.

    Example: dryfit caliper status CAL-2
    """
    from qa.calipers.status import standings
    from qa.cli.caliper_checks import check_document

    with open_shop(shop) as (found, store):
        known = standings(found, store, size=size)
        unit = found.unit
        if instrument:
            chosen = found.instrument(instrument)
            known = [item for item in known if item.instrument.id == instrument]
            checks = _checks(found, store, chosen)
    if as_json:
        told: dict[str, object] = {"instruments": [_status_document(item) for item in known]}
        if instrument:
            told["checks"] = [check_document(chosen, *item) for item in checks]
        print_json(told)
    else:
        _print_status(known, unit)
        if instrument:
            _print_checks(chosen, checks, unit)
    if not all(item.state.believed for item in known):
        raise typer.Exit(1)


def _print_status(known: Sequence[Standing], unit: str) -> None:
    from qa.calipers.study_words import say_other, say_studies

    figures = ("checked", "error", "next due", "repeats to", "can prove", "keep off limits")
    print_table(("", "instrument", "state", *figures), [_status_row(item, unit) for item in known])
    for item in known:
        told = say_studies(item.instrument, unit)
        for line in [*told, say_other(item.instrument, unit)] if told else []:
            typer.echo(line)
    typer.echo(
        "repeats to: two standard deviations. can prove: of that tolerance six of them take 30 %. "
        "keep off limits: as far inside one reading must be to conform at 95 %."
    )


def _checks(shop: Shop, store: Store, instrument: Instrument) -> list[Found]:
    """The checks of an instrument, oldest first, and what each failed one throws doubt on."""
    from qa.calipers.check import rejudge
    from qa.calipers.standing import checks_of

    made = checks_of(instrument, store.events("check"))
    return [
        (item, None if item.passed(instrument) else rejudge(shop, store, instrument, item)) for item in made
    ]


def _print_checks(instrument: Instrument, checks: Sequence[Found], unit: str) -> None:
    from qa.bench.speech import signed
    from qa.cli.caliper_checks import print_again

    typer.echo("")
    rows = [
        (
            "●" if made.passed(instrument) else "✕",
            made.at[:10],
            made.state,
            ", ".join(shown(point.reference, instrument.unit, unit) for point in made.points),
            signed(made.worst.error, instrument.unit, unit),
        )
        for made, _ in checks
    ]
    print_table(("", "checked", "state", "at", "furthest off"), rows)
    for made, again in checks:
        if again is not None:
            typer.echo("")
            typer.secho(f"The check of {made.at[:10]} failed.", fg="red")
            print_again(again, unit)


def _status_row(item: Standing, unit: str) -> tuple[str, ...]:
    from qa.bench.speech import signed

    instrument, state = item.instrument, item.state
    mark = {"good": "●", "failed": "✕", "overdue": "▲", "never checked": "–"}[state.trust]
    studied = f" (study {item.studied.at[:10]})" if item.studied.at else ""
    return (
        mark,
        instrument.id,
        state.trust,
        (state.checked_at or "")[:10],
        "" if state.error is None else signed(state.error, instrument.unit, unit),
        state.due.isoformat() if state.due else "",
        shown(2 * instrument.repeatability, instrument.unit, unit) + studied,
        f"±{shown(item.provable, instrument.unit, unit)}",
        shown(item.guard, instrument.unit, unit),
    )


def _status_document(item: Standing) -> dict[str, object]:
    from qa.calipers.study import provable

    instrument, state = item.instrument, item.state
    dof = instrument.repeatability_dof
    return {
        "instrument": instrument.id,
        "quantity": instrument.quantity,
        "unit": instrument.unit,
        "range": list(instrument.span) if instrument.span else None,
        "state": state.trust,
        "checked_at": state.checked_at,
        "error": rounded(state.error),
        "permissible_error": instrument.max_permissible_error,
        "due": state.due.isoformat() if state.due else None,
        "repeatability": instrument.repeatability,
        "repeatability_dof": None if dof == float("inf") else dof,
        "studied_at": item.studied.at or None,
        "studies": [
            {
                "species": study.species or None,
                "repeatability": study.repeatability,
                "dof": study.dof,
                "provable_tolerance": rounded(provable(study.repeatability)),
                "at": study.at,
            }
            for study in instrument.studies
        ],
        "standard_uncertainty": rounded(item.reading.u),
        "provable_tolerance": rounded(item.provable),
        "guard_band": rounded(item.guard),
    }
