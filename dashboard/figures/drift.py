"""Builds in order as distances from the target, with the tolerance they are held to."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

from dashboard.marks import BAND, BAND_EDGE, GRID, INK, MARKS, PAPER, PENCIL
from qa.conformity import Verdict

DASHES = ("solid", "dot", "dash", "dashdot")


@dataclass(frozen=True, slots=True)
class Spot:
    """One build of the figure. `deviation` and limits are distances from the target in the axis unit."""

    build: str
    deviation: float
    lower: float | None
    upper: float | None
    verdict: Verdict
    line: str
    says: str
    has_target: bool = True


def drift_figure(spots: Sequence[Spot], axis: str) -> go.Figure:
    """The figure of a series in its order; builds of one `line` are joined, as by bench.

    `axis` is the title of the axis with its unit.
    """
    figure = go.Figure(layout=_layout(spots, axis))
    _draw_band(figure, spots)
    lines = list(dict.fromkeys(spot.line for spot in spots))
    for line, dash in zip(lines, itertools.cycle(DASHES), strict=False):
        _draw_line(figure, [spot for spot in spots if spot.line == line], dash, named=len(lines) > 1)
    for verdict in MARKS:
        _draw_spots(figure, verdict, [spot for spot in spots if spot.verdict == verdict])
    if any(spot.has_target for spot in spots):
        figure.add_hline(y=0, line={"color": INK, "width": 1.5})
        figure.add_annotation(
            x=1, xref="paper", xanchor="left", y=0, text=" target", showarrow=False, font={"color": INK}
        )
    return figure


def _draw_band(figure: go.Figure, spots: Sequence[Spot]) -> None:
    """The tolerance as a shaded strip whose edges step where the plan was revised."""
    builds = [spot.build for spot in spots]
    if any(spot.lower is not None and spot.upper is not None for spot in spots):
        for limits, fill in (([s.lower for s in spots], None), ([s.upper for s in spots], "tonexty")):
            figure.add_scatter(
                x=builds, y=limits, mode="lines", fill=fill, fillcolor=BAND, hoverinfo="skip",
                showlegend=False, line={"color": BAND_EDGE, "width": 2, "shape": "hvh"},
            )  # fmt: skip
        return
    for limits in ([spot.lower for spot in spots], [spot.upper for spot in spots]):
        if any(limit is not None for limit in limits):
            figure.add_scatter(
                x=builds, y=limits, mode="lines", hoverinfo="skip", showlegend=False,
                line={"color": BAND_EDGE, "width": 4, "shape": "hvh"},
            )  # fmt: skip


def _draw_line(figure: go.Figure, spots: Sequence[Spot], dash: str, named: bool) -> None:
    figure.add_scatter(
        x=[spot.build for spot in spots],
        y=[spot.deviation for spot in spots],
        mode="lines",
        name=spots[0].line,
        showlegend=named,
        hoverinfo="skip",
        line={"color": PENCIL, "width": 1.5, "dash": dash},
    )


def _draw_spots(figure: go.Figure, verdict: Verdict, spots: Sequence[Spot]) -> None:
    if not spots:
        return
    look = MARKS[verdict]
    figure.add_scatter(
        x=[spot.build for spot in spots],
        y=[spot.deviation for spot in spots],
        mode="markers",
        name=str(verdict),
        text=[spot.says for spot in spots],
        hovertemplate="%{text}<extra></extra>",
        showlegend=False,
        marker={
            "symbol": look.symbol,
            "color": look.colour,
            "size": 13,
            # The light fill of this one needs an edge on paper.
            "line": {"color": INK, "width": 1.5 if verdict == Verdict.UNDECIDED else 0},
        },
    )


def _layout(spots: Sequence[Spot], axis: str) -> dict[str, Any]:
    font = {"family": "inherit", "size": 15, "color": INK}
    clear = "rgba(0,0,0,0)"
    return {
        "template": "none",
        "font": font,
        "paper_bgcolor": clear,
        "plot_bgcolor": clear,
        "margin": {"l": 70, "r": 55, "t": 10, "b": 40},
        "hoverlabel": {"bgcolor": INK, "bordercolor": INK, "font": {"color": PAPER, "size": 15}},
        "hovermode": "closest",
        "hoverdistance": 40,
        "legend": {
            "orientation": "h",
            "traceorder": "normal",
            "y": 1.02,
            "yanchor": "bottom",
            "x": 0,
            "font": {"color": INK},
        },
        "uirevision": "keep",
        "dragmode": False,
        "xaxis": {
            "type": "category",
            "categoryorder": "array",
            "categoryarray": [spot.build for spot in spots],
            "showgrid": False,
            "zeroline": False,
            "linecolor": PENCIL,
            "ticks": "outside",
            "tickcolor": PENCIL,
            "nticks": 12,
            "automargin": True,
            "autotickangles": [0, 90],
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
