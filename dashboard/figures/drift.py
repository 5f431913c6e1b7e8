"""Builds in order as distances from the target: tolerance, what was to be expected, and what signals."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import plotly.graph_objects as go

from dashboard.figures.drift_frame import (
    Drawing,
    Flag,
    Lines,
    Places,
    Spot,
    by_build,
    draw_band,
    draw_flag,
    draw_target,
    paper,
    span_of,
    tagged,
    upright,
)
from dashboard.marks import INK, MARKS, PENCIL
from qa.conformity import Verdict

DASHES = ("solid", "dot", "dash", "dashdot")
SHAPES = ("circle", "square-open", "diamond", "triangle-up-open", "pentagon", "star-open", "hexagon")
EXPECTED = {"color": INK, "width": 1.5, "dash": "7px,4px", "shape": "hvh"}
BELOW, ABOVE = [0.0, 0.24], [0.34, 1.0]


def drift_figure(drawing: Drawing) -> go.Figure:
    """The figure of a series in its order, the moving average under it where there is one."""
    figure = go.Figure(layout=paper(drawing.axis))
    builds, spots = drawing.builds, drawing.spots
    figure.update_layout(xaxis=by_build(builds), yaxis_range=span_of(drawing))
    draw_band(figure, builds, [s.lower for s in spots], [s.upper for s in spots])
    if drawing.target and spots:
        draw_target(figure)
    _draw_expected(figure, builds, drawing.expected)
    for line, dash in zip(_groups(drawing), itertools.cycle(DASHES), strict=False):
        _draw_line(figure, line, dash)
    size = spot_size(len(spots))
    _draw_rings(figure, builds, [spot.at for spot in spots], drawing.called, size)
    _draw_marks(figure, drawing, size)
    if drawing.average:
        _draw_average(figure, drawing, size)
    for index, tag in drawing.alarms:
        place = {"yshift": 26} if spots[index].at >= 0 else {"yshift": -26}
        figure.add_annotation(x=builds[index], y=spots[index].at, **place, **tagged(tag))
    for flag, raised in _staggered(drawing.flags):
        draw_flag(figure, flag, raised=raised)
    return figure


def spot_size(builds: int) -> int:
    """The size of a point: smaller where there are many."""
    return 13 if builds <= 24 else 11 if builds <= 60 else 8 if builds <= 120 else 6


def _staggered(flags: Sequence[Flag]) -> list[tuple[Flag, bool]]:
    """Each flag, and whether its letter is raised so as not to cover that of the one before."""
    told: list[tuple[Flag, bool]] = []
    for flag in flags:
        near = bool(told) and flag.index - told[-1][0].index < 3
        told.append((flag, near and not told[-1][1]))
    return told


def _groups(drawing: Drawing) -> list[list[Spot]]:
    if not drawing.grouped:
        return [list(drawing.spots)] if drawing.spots else []
    names = groups_of(drawing)
    return [[spot for spot in drawing.spots if spot.group == name] for name in names]


def groups_of(drawing: Drawing) -> list[str]:
    """The names points are told apart by, in the order they first appear."""
    return list(dict.fromkeys(spot.group for spot in drawing.spots)) if drawing.grouped else []


def _draw_expected(figure: go.Figure, builds: Sequence[str], lines: Lines) -> None:
    """The centre and limits of what the builds before would lead one to expect."""
    if not lines:
        return
    thin = {"color": INK, "width": 1, "dash": "2px,3px", "shape": "hvh"}
    for places, line in ((lines.center, thin), (lines.lower, EXPECTED), (lines.upper, EXPECTED)):
        figure.add_scatter(
            x=builds, y=list(places), mode="lines", line=line, hoverinfo="skip", name="expected"
        )


def _draw_line(figure: go.Figure, spots: Sequence[Spot], dash: str) -> None:
    figure.add_scatter(
        x=[spot.build for spot in spots],
        y=[spot.at for spot in spots],
        mode="lines",
        name=spots[0].group,
        hoverinfo="skip",
        line={"color": PENCIL, "width": 1.5, "dash": dash},
    )


def _draw_rings(
    figure: go.Figure, builds: Sequence[str], places: Places, called: Sequence[int], size: int, y: str = "y"
) -> None:
    """A ring about every build that signals."""
    figure.add_scatter(
        x=[builds[i] for i in called],
        y=[places[i] for i in called],
        mode="markers",
        name="signals",
        hoverinfo="skip",
        yaxis=y,
        marker={"symbol": "circle-open", "size": size + 10, "color": INK, "line": {"color": INK, "width": 2}},
    )


def _draw_marks(figure: go.Figure, drawing: Drawing, size: int) -> None:
    if drawing.grouped:
        for spots, shape in zip(_groups(drawing), itertools.cycle(SHAPES), strict=False):
            _draw_spots(figure, spots[0].group, spots, shape, INK, size)
        return
    plain = [spot for spot in drawing.spots if spot.verdict is None]
    _draw_spots(figure, "builds", plain, "circle", INK, size - 3)
    for verdict, look in MARKS.items():
        own = [spot for spot in drawing.spots if spot.verdict == verdict]
        edge = 1.5 if verdict == Verdict.UNDECIDED else 0  # its light fill needs one on paper
        _draw_spots(figure, str(verdict), own, look.symbol, look.colour, size, edge)


def _draw_spots(
    figure: go.Figure,
    name: str,
    spots: Sequence[Spot],
    shape: str,
    colour: str,
    size: int,
    edge: float | None = None,
) -> None:
    if not spots:
        return
    width = edge if edge is not None else 2 if shape.endswith("-open") else 0
    figure.add_scatter(
        x=[spot.build for spot in spots],
        y=[spot.at for spot in spots],
        mode="markers",
        name=name,
        text=[spot.says for spot in spots],
        hovertemplate="%{text}<extra></extra>",
        marker={"symbol": shape, "color": colour, "size": size, "line": {"color": INK, "width": width}},
    )


def _draw_average(figure: go.Figure, drawing: Drawing, size: int) -> None:
    """The moving average in a strip of its own, with its own limits."""
    builds, lines = drawing.builds, drawing.average
    figure.update_layout(
        yaxis_domain=ABOVE, yaxis2=upright("average", domain=BELOW, nticks=4), xaxis_anchor="y2"
    )
    for places in (lines.lower, lines.upper):
        figure.add_scatter(
            x=builds, y=list(places), mode="lines", line=EXPECTED, hoverinfo="skip", yaxis="y2", name="limits"
        )
    figure.add_scatter(
        x=builds,
        y=list(lines.center),
        mode="lines+markers",
        name="moving average",
        hoverinfo="skip",
        yaxis="y2",
        line={"color": INK, "width": 2},
        marker={"color": INK, "size": max(4, size - 8)},
    )
    _draw_rings(figure, builds, lines.center, drawing.average_called, max(4, size - 5), "y2")
