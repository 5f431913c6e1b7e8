"""What figures of drift are drawn from, and what they share: paper, axes, band and flags."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import plotly.graph_objects as go

from dashboard.marks import BAND, BAND_EDGE, GRID, INK, PAPER, PENCIL
from qa.conformity import Verdict

Places = Sequence[float | None]
CLEAR = "rgba(0,0,0,0)"
FONT = {"family": "inherit", "size": 15, "color": INK}


@dataclass(frozen=True, slots=True)
class Spot:
    """One build. `at` and the tolerance are distances from the target in the axis unit; `says` is its hover.

    `verdict` is None where the point is no single verdict, as a mean of stations. `group` names who or what
    made it, where points are told apart by that.
    """

    build: str
    at: float
    lower: float | None
    upper: float | None
    verdict: Verdict | None
    group: str
    says: str


@dataclass(frozen=True, slots=True)
class Lines:
    """A centre with limits, one each for every build; None where a chart says nothing yet."""

    center: Places = ()
    lower: Places = ()
    upper: Places = ()

    def __bool__(self) -> bool:
        return any(place is not None for place in self.center)


@dataclass(frozen=True, slots=True)
class Flag:
    """A stated fix: drawn before the build at `index`, under a letter; `anew` where a new baseline begins."""

    index: int
    tag: str
    words: str
    anew: bool


@dataclass(frozen=True, slots=True)
class Drawing:
    """All that is drawn of a series. `alarms` are (index of the build, number) of each run of signals.

    `called` and `average_called` are the indices of the builds beyond the limits of `expected` and `average`,
    whose centre is the moving average itself.
    """

    spots: Sequence[Spot]
    axis: str
    target: bool = True
    grouped: bool = False
    expected: Lines = field(default_factory=Lines)
    average: Lines = field(default_factory=Lines)
    called: Sequence[int] = ()
    average_called: Sequence[int] = ()
    alarms: Sequence[tuple[int, str]] = ()
    flags: Sequence[Flag] = ()

    @property
    def builds(self) -> list[str]:
        return [spot.build for spot in self.spots]


def draw_band(figure: go.Figure, x: Sequence[Any], lower: Places, upper: Places) -> None:
    """The tolerance as a shaded strip whose edges step where the plan was revised."""
    line = {"color": BAND_EDGE, "shape": "hvh"}
    if any(a is not None and b is not None for a, b in zip(lower, upper, strict=True)):
        for limits, fill in ((lower, None), (upper, "tonexty")):
            figure.add_scatter(
                x=x, y=limits, mode="lines", fill=fill, fillcolor=BAND, hoverinfo="skip",
                showlegend=False, line=line | {"width": 2},
            )  # fmt: skip
        return
    for limits in (lower, upper):
        if any(limit is not None for limit in limits):
            figure.add_scatter(
                x=x, y=limits, mode="lines", hoverinfo="skip", showlegend=False, line=line | {"width": 4}
            )


def draw_target(figure: go.Figure, label: bool = True) -> None:
    """The target as a line of ink."""
    figure.add_hline(y=0, line={"color": INK, "width": 1.5})
    if label:
        figure.add_annotation(
            x=1, xref="paper", xanchor="left", y=0, text=" target", showarrow=False, font={"color": INK}
        )


def tagged(text: str, hover: str = "") -> dict[str, Any]:
    """A small label of paper on ink."""
    return {
        "text": text,
        "showarrow": False,
        "bgcolor": INK,
        "bordercolor": INK,
        "borderpad": 2,
        "font": {"color": PAPER, "size": 13},
        "hovertext": hover or None,
    }


def draw_flag(figure: go.Figure, flag: Flag, label: bool = True, raised: bool = False) -> None:
    """A fix as an upright line between the build before it and the one after."""
    x = flag.index - 0.5
    line = {"color": INK, "width": 1.5, "dash": "solid" if flag.anew else "dot"}
    figure.add_shape(type="line", x0=x, x1=x, y0=0, y1=1, yref="paper", line=line)
    if label:
        figure.add_annotation(
            x=x,
            y=1,
            yref="paper",
            yanchor="bottom",
            yshift=20 if raised else 0,
            **tagged(flag.tag, flag.words),
        )


def span_of(drawing: Drawing) -> list[float] | None:
    """The ends of the upright axis: all builds and tolerance, and limits unless they dwarf those."""
    held = [place for spot in drawing.spots for place in (spot.at, spot.lower, spot.upper)]
    known = [place for place in held if place is not None] + [0.0] * drawing.target
    if not known or max(known) <= min(known):
        return None
    low, high = min(known), max(known)
    room = (high - low) / 2
    limits = [p for p in (*drawing.expected.lower, *drawing.expected.upper) if p is not None]
    near = [p for p in limits if low - room <= p <= high + room]
    low, high = min(low, *near, low), max(high, *near, high)
    edge = 0.08 * (high - low)
    return [low - edge, high + edge]


def paper(axis: str) -> dict[str, Any]:
    """The layout every figure of drift begins with; `axis` is the title of the upright axis with its unit."""
    return {
        "template": "none",
        "font": FONT,
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "margin": {"l": 70, "r": 55, "t": 46, "b": 40},
        "hoverlabel": {
            "bgcolor": INK,
            "bordercolor": INK,
            "font": {"color": PAPER, "size": 15},
            "align": "left",
        },
        "hovermode": "closest",
        "hoverdistance": 40,
        "showlegend": False,
        "uirevision": "keep",
        "dragmode": False,
        "yaxis": upright(axis),
    }


def upright(axis: str = "", **more: Any) -> dict[str, Any]:
    """An upright axis in pencil."""
    return {
        "title": {"text": axis, "standoff": 12},
        "gridcolor": GRID,
        "zeroline": False,
        "ticks": "outside",
        "tickcolor": PENCIL,
        "fixedrange": True,
        **more,
    }


def by_build(builds: Sequence[str], **more: Any) -> dict[str, Any]:
    """The axis of builds in their order."""
    return {
        "type": "category",
        "categoryorder": "array",
        "categoryarray": list(builds),
        "range": [-0.6, len(builds) - 0.4],
        "showgrid": False,
        "zeroline": False,
        "linecolor": PENCIL,
        "ticks": "outside",
        "tickcolor": PENCIL,
        "nticks": 12,
        "automargin": True,
        "autotickangles": [0, 90],
        "fixedrange": True,
        **more,
    }
