"""The passes over the size read last, as a run chart on the Bench page."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.aria import aria
from dashboard.figures.passes import Run, passes_figure
from dashboard.words import axis_unit, on_axis, plain
from qa.bench.capture import Bench
from qa.bench.view import BenchView, runs
from qa.characteristics.base import MILLION


def run_chart(bench: Bench, view: BenchView, unit: str) -> Component | None:
    """The run chart of the size read last, else of any that was read twice; None where none was."""
    rows = bench.rows()
    last = view.last.characteristic if view.last else ""
    sizes = sorted(bench.part.characteristics.values(), key=lambda each: each.name != last)
    found = {item.name: (item, runs(bench.part, rows, item.name)) for item in sizes}
    item, drawn_runs = next((pair for pair in found.values() if pair[1]), (None, ()))
    if item is None:
        return None

    def scaled(value: float | None) -> float:
        return on_axis(value, item.unit, unit) or 0.0

    drawn = [Run(plain(run.station), tuple(scaled(value) for value in run.values)) for run in drawn_runs]
    target, lower, upper = (
        None if n is None else scaled(n / MILLION) for n in (item.target, item.lower, item.upper)
    )
    figure = passes_figure(drawn, target, lower, upper, axis_unit(item.unit, unit))
    return html.Section(
        [
            html.H2(f"{plain(item.name).capitalize()} pass by pass"),
            html.Div(
                dcc.Graph(
                    figure=figure,
                    config={"displayModeBar": False, "responsive": True},
                    className="chart",
                ),
                role="img",
                **aria(label=_runs_said(drawn)),
            ),
        ]
    )


def _runs_said(drawn: list[Run]) -> str:
    told = (f"{run.station} {', '.join(f'{value:.4g}' for value in run.values)}" for run in drawn)
    return f"Run chart of the passes: {'; '.join(told)}"
