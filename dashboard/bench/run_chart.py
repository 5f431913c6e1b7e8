"""The passes over the size read last, as a run chart on the Bench page."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.aria import aria
from dashboard.figures.passes import Run, passes_figure
from dashboard.words import axis_unit, on_axis, plain
from qa.bench_view import BenchView, runs
from qa.capture import Bench
from qa.characteristics.base import MILLION


def run_chart(bench: Bench, view: BenchView, unit: str) -> Component | None:
    """The run chart of the size that was read last; None before its second pass."""
    item = bench.part.characteristics.get(view.last.characteristic) if view.last else None
    found = runs(bench.part, bench.rows(), item.name) if item else ()
    if item is None or not found:
        return None

    def scaled(value: float | None) -> float:
        return on_axis(value, item.unit, unit) or 0.0

    limits = [None if n is None else scaled(n / MILLION) for n in (item.target, item.lower, item.upper)]
    drawn = [Run(plain(run.station), tuple(scaled(value) for value in run.values)) for run in found]
    return html.Section(
        [
            html.H2(f"{plain(item.name).capitalize()} pass by pass"),
            html.Div(
                dcc.Graph(
                    figure=passes_figure(drawn, *limits, axis_unit(item.unit, unit)),
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
