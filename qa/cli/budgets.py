"""Uncertainty budgets on paper and as JSON, largest contributor first (JCGM 100:2008, 7.2.7)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import typer

from qa.cli.common import print_table, rounded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from qa.judge import Judged, JudgedBuild


def print_budgets(judged: Sequence[JudgedBuild], unit: str) -> None:
    """The budget of every value judged, one table each."""
    for item in judged:
        for part in item.parts:
            for value in part.characteristics:
                if value.uncertainty is not None:
                    _print(value, unit)


def _print(item: Judged, unit: str) -> None:
    from qa.bench.speech import amount
    from qa.uncertainty import coverage_factor

    combined, level = item.uncertainty, item.confidence
    if combined is None or item.value is None:
        return
    factor = coverage_factor(combined.dof, level)
    typer.echo("")
    typer.secho(f"{item.place} {amount(item.value, item.unit, unit)}", bold=True)
    rows = [
        (line.name, _figure(line.u), f"{line.sensitivity:+.3f}", _figure(line.part), _dof_words(line.dof))
        for line in combined.contributions
    ]
    rows.append(("combined", "", "", _figure(combined.u), _dof_words(combined.dof)))
    units = f"u ({item.unit})", "sensitivity", f"adds ({item.unit})"
    print_table(("contribution", *units, "degrees of freedom"), rows)
    typer.echo(f"expanded at {level:.0%}: k {factor:.2f}, U {_figure(factor * combined.u)} {item.unit}")


def _figure(u: float) -> str:
    return f"{u:.4f}"


def _dof_words(dof: float) -> str:
    """Degrees of freedom as a reader wants them."""
    return "infinite" if math.isinf(dof) else f"{dof:.1f}"


def budget_document(item: Judged) -> dict[str, object]:
    """The budget of one value as JSON; infinite degrees of freedom are null."""
    from qa.uncertainty import coverage_factor

    if item.uncertainty is None:
        return {"budget": None}
    combined = item.uncertainty
    factor = coverage_factor(combined.dof, item.confidence)
    lines = [
        {
            "name": line.name,
            "u": rounded(line.u),
            "sensitivity": rounded(line.sensitivity),
            "part": rounded(line.part),
            "dof": _dof(line.dof),
        }
        for line in combined.contributions
    ]
    return {
        "budget": lines,
        "effective_dof": _dof(combined.dof),
        "confidence": item.confidence,
        "coverage_factor": rounded(factor),
        "expanded_uncertainty": rounded(factor * combined.u),
    }


def _dof(dof: float) -> float | None:
    return None if math.isinf(dof) else rounded(dof)
