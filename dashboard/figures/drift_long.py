"""Every build there has ever been: a band from least to greatest, the mean, and what is out of tolerance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import plotly.graph_objects as go

from dashboard.figures.drift_frame import Places, draw_band, draw_target, paper, upright
from dashboard.marks import INK, MARKS, PENCIL
from qa.conformity import Verdict

OUT = MARKS[Verdict.DOES_NOT_CONFORM]


@dataclass(frozen=True, slots=True)
class Bin:
    """Neighbouring builds, from `first` to `last` (names), at `place` in the order; the axis unit."""

    first: str
    last: str
    place: int
    least: float
    mean: float
    greatest: float
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class Outside:
    """One build out of tolerance."""

    build: str
    place: int
    at: float
    says: str


def long_figure(bins: Sequence[Bin], outside: Sequence[Outside], axis: str, target: bool) -> go.Figure:
    """The figure of a long series from its bins, at most three points a bin and one a build outside."""
    figure = go.Figure(layout=paper(axis))
    x = [one.place for one in bins]
    shown = bins[:: max(1, len(bins) // 7)]
    figure.update_layout(
        xaxis=upright(
            tickvals=[one.place for one in shown], ticktext=[one.first for one in shown],
            showgrid=False, linecolor=PENCIL, automargin=True, autotickangles=[0, 90], title=None,
        )
    )  # fmt: skip
    draw_band(figure, x, [one.lower for one in bins], [one.upper for one in bins])
    if target:
        draw_target(figure)
    _draw_reach(figure, x, [one.least for one in bins], [one.greatest for one in bins])
    figure.add_scatter(
        x=x,
        y=[one.mean for one in bins],
        mode="lines",
        name="mean",
        text=[_says(one) for one in bins],
        hovertemplate="%{text}<extra></extra>",
        line={"color": INK, "width": 1.5},
    )
    figure.add_scatter(
        x=[one.place for one in outside],
        y=[one.at for one in outside],
        mode="markers",
        name="outside",
        text=[one.says for one in outside],
        hovertemplate="%{text}<extra></extra>",
        marker={"symbol": OUT.symbol, "color": OUT.colour, "size": 8},
    )
    return figure


def _draw_reach(figure: go.Figure, x: Sequence[int], least: Places, greatest: Places) -> None:
    for places, name in ((least, "least"), (greatest, "greatest")):
        figure.add_scatter(
            x=x, y=list(places), mode="lines", name=name, hoverinfo="skip", line={"color": PENCIL, "width": 1}
        )


def _says(one: Bin) -> str:
    builds = one.first if one.first == one.last else f"{one.first} to {one.last}"
    return f"<b>{builds}</b><br>{one.least:+.3f} to {one.greatest:+.3f}, mean {one.mean:+.3f}"
