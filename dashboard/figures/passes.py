"""The passes over one part as a run chart: each station on its way to the target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

from dashboard.marks import BAND, BAND_EDGE, GRID, INK, PENCIL

MOST_PASSES, MOST_POINTS = 60, 3_000
SYMBOLS = ("circle-open", "square-open", "diamond-open", "triangle-down-open", "cross-open", "star-open")


@dataclass(frozen=True, slots=True)
class Run:
    """What one station read, pass after pass, in the axis unit."""

    station: str
    values: tuple[float, ...]


def passes_figure(
    runs: Sequence[Run], target: float | None, lower: float | None, upper: float | None, axis: str
) -> go.Figure:
    """The figure of a part's passes, the first at the left; target and limits in the axis unit.

    Of many passes only the newest are drawn. `axis` is the title of the axis with its unit. Each line carries
    the name of its station at its end, those that end alike together.
    """
    most = max((len(run.values) for run in runs), default=1)
    first = max(0, most - min(MOST_PASSES, MOST_POINTS // max(len(runs), 1)))
    figure = go.Figure(layout=_layout(first, most, axis))
    _draw_limits(figure, target, lower, upper)
    for place, run in enumerate(runs):
        figure.add_scatter(
            x=list(range(first + 1, len(run.values) + 1)),
            y=list(run.values[first:]),
            mode="lines+markers",
            name=run.station,
            showlegend=len(runs) > 1,
            hovertemplate=f"{run.station}, pass %{{x}}: %{{y}}<extra></extra>",
            line={"color": PENCIL, "width": 1.5},
            marker={
                "symbol": SYMBOLS[place % len(SYMBOLS)], "color": INK, "size": 10, "line": {"width": 2}
            },
        )  # fmt: skip
    return figure


def _draw_limits(figure: go.Figure, target: float | None, lower: float | None, upper: float | None) -> None:
    if lower is not None and upper is not None:
        figure.add_hrect(
            y0=lower, y1=upper, fillcolor=BAND, line={"color": BAND_EDGE, "width": 2}, layer="below"
        )
    if target is not None:
        figure.add_hline(y=target, line={"color": INK, "width": 1.5})
        figure.add_annotation(
            x=1, xref="paper", xanchor="left", y=target, text=" target", showarrow=False, font={"color": INK}
        )


def _layout(first: int, most: int, axis: str) -> dict[str, Any]:
    return {
        "template": "none",
        "font": {"family": "inherit", "size": 15, "color": INK},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "margin": {"l": 70, "r": 60, "t": 10, "b": 50},
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0, "font": {"color": INK}},
        "dragmode": False,
        "hovermode": "closest",
        "xaxis": {
            "title": {"text": "pass", "standoff": 8},
            "range": [first + 0.6, most + 0.4],
            "dtick": 1 if most - first <= 20 else 5,
            "showgrid": False,
            "zeroline": False,
            "linecolor": PENCIL,
            "ticks": "outside",
            "tickcolor": PENCIL,
            "fixedrange": True,
        },
        "yaxis": {
            "title": {"text": axis, "standoff": 12},
            "gridcolor": GRID,
            "zeroline": False,
            "ticks": "outside",
            "tickcolor": PENCIL,
            "fixedrange": True,
        },
    }
