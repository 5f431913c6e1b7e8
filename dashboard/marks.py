"""Verdicts as a shape, a colour and a word, so that none of the three is needed to tell them apart.

Colours: Okabe and Ito, "Color Universal Design", 2008: a palette told apart with any kind of colour vision.
The same are in assets/bench.css.
"""

from __future__ import annotations

from dataclasses import dataclass

from dash import html

from dashboard.aria import aria
from qa.conformity import Verdict


@dataclass(frozen=True, slots=True)
class Mark:
    """How a verdict is drawn: `name` in class names, and plotly's symbol and colour."""

    name: str
    symbol: str
    colour: str


MARKS = {
    Verdict.CONFORMS: Mark("conforms", "circle", "rgb(0, 114, 178)"),
    Verdict.DOES_NOT_CONFORM: Mark("does-not-conform", "x", "rgb(213, 94, 0)"),
    Verdict.UNDECIDED: Mark("undecided", "triangle-up", "rgb(230, 159, 0)"),
    Verdict.NOT_MEASURED: Mark("not-measured", "line-ew-open", "rgb(106, 97, 86)"),
}
INK = "rgb(43, 37, 32)"
PENCIL = "rgb(106, 97, 86)"
GRID = "rgb(221, 211, 194)"
BAND = "rgb(239, 228, 205)"
BAND_EDGE = "rgb(214, 190, 148)"
PAPER = "rgb(250, 246, 238)"


def mark(verdict: Verdict) -> html.Span:
    """The shape alone; a word must stand beside it."""
    return html.Span(className=f"mark {MARKS[verdict].name}", **aria(hidden="true"))


def marked(verdict: Verdict, words: str = "") -> html.Span:
    """The shape and the word of a verdict."""
    return html.Span([mark(verdict), html.Span(words or str(verdict))], className="marked")


def legend() -> html.Ul:
    """Every verdict with its shape."""
    return html.Ul([html.Li(marked(verdict)) for verdict in MARKS], className="legend")
