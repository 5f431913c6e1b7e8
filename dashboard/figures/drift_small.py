"""A series small, to be looked over among others: its course within the tolerance, no words but the ends."""

from __future__ import annotations

import plotly.graph_objects as go

from dashboard.figures.drift_frame import Drawing, by_build, draw_band, draw_flag, draw_target, paper, span_of
from dashboard.marks import INK, PENCIL

FEW = 60


def small_figure(drawing: Drawing) -> go.Figure:
    """The figure of a series in a hand's breadth; only the first and last build are named."""
    figure = go.Figure(layout=paper(""))
    builds, spots = drawing.builds, drawing.spots
    places, few = [spot.at for spot in spots], len(spots) <= FEW
    edges = [p for p in (spots[-1].lower, spots[-1].upper) if p is not None] if spots else []
    figure.update_layout(
        margin={"l": 58, "r": 12, "t": 8, "b": 26},
        hovermode=False,
        font_size=13,
        xaxis=by_build(builds, tickvals=_ends(builds), tickangle=0, automargin=False, ticks=""),
        yaxis={
            "range": span_of(drawing), "showgrid": False, "ticks": "",
            "tickvals": edges, "tickformat": "+.3~f",
        },
    )  # fmt: skip
    draw_band(figure, builds, [s.lower for s in spots], [s.upper for s in spots])
    if drawing.target and spots:
        draw_target(figure, label=False)
    figure.add_scatter(
        x=builds, y=places, mode="lines+markers", hoverinfo="skip", name="builds",
        line={"color": PENCIL, "width": 1.2}, marker={"color": INK, "size": 5 if few else 3},
    )  # fmt: skip
    called = sorted({*drawing.called, *drawing.average_called})
    figure.add_scatter(
        x=[builds[i] for i in called], y=[places[i] for i in called], mode="markers", hoverinfo="skip",
        name="signals",
        marker={
            "symbol": "circle-open", "size": 13 if few else 7, "color": INK,
            "line": {"color": INK, "width": 1.8 if few else 1},
        },
    )  # fmt: skip
    for flag in drawing.flags:
        if flag.anew:
            draw_flag(figure, flag, label=False)
    return figure


def _ends(builds: list[str]) -> list[str]:
    return list(dict.fromkeys([builds[0], builds[-1]])) if builds else []
