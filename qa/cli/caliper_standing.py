"""`dryfit caliper status`: which instruments may be believed, and what they can prove."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, ShopOption, open_shop, print_json, print_table, rounded, shown

if TYPE_CHECKING:
    from qa.caliper_status import Standing


def status(
    size: Annotated[
        float | None, typer.Option("--size", min=0, help="Of the reading in question, mm.")
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say of every instrument whether it may be believed, and what one reading of it can prove.

    Exit status 1 where one has failed its check or is overdue.

    Example: dryfit caliper status
    """
    from qa.caliper_status import standings

    with open_shop(shop) as (found, store):
        known = standings(found, store, size=size)
        unit = found.unit
    if as_json:
        print_json({"instruments": [_status_document(item) for item in known]})
    else:
        head = (
            "",
            "instrument",
            "state",
            "checked",
            "error",
            "next due",
            "repeats to",
            "can prove",
            "keep off limits",
        )
        print_table(head, [_status_row(item, unit) for item in known])
        typer.echo(
            "repeats to: two standard deviations. can prove: of that tolerance six of them take 30 %. "
            "keep off limits: as far inside one reading must be to conform at 95 %."
        )
    if not all(item.state.believed for item in known):
        raise typer.Exit(1)


def _status_row(item: Standing, unit: str) -> tuple[str, ...]:
    from qa.speech import signed

    instrument, state = item.instrument, item.state
    mark = {"good": "●", "failed": "✕", "overdue": "▲", "never checked": "–"}[state.trust]
    studied = "" if item.studied_at is None else f" (study {item.studied_at[:10]})"
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
        "studied_at": item.studied_at,
        "standard_uncertainty": rounded(item.reading.u),
        "provable_tolerance": rounded(item.provable),
        "guard_band": rounded(item.guard),
    }
