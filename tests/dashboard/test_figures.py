"""Figures say what the values say."""

from __future__ import annotations

import re
from pathlib import Path

import dashboard.marks
from dashboard.figures.drift import Spot, drift_figure
from qa.conformity import Verdict

SPOTS = [
    Spot("A-1", 0.01, -0.15, 0.15, Verdict.CONFORMS, "North", "A-1: conforms"),
    Spot("A-2", 0.14, -0.15, 0.15, Verdict.UNDECIDED, "South", "A-2: undecided"),
    Spot("A-3", 0.30, -0.10, 0.10, Verdict.DOES_NOT_CONFORM, "North", "A-3: does not conform"),
]


def markers(figure) -> dict[str, tuple[list[str], list[float], str]]:
    return {
        trace.name: (list(trace.x), list(trace.y), trace.marker.symbol)
        for trace in figure.data
        if trace.mode == "markers"
    }


def test_every_build_is_drawn_once_with_the_shape_of_its_verdict():
    """Place, height and symbol of each point are the values given."""
    assert markers(drift_figure(SPOTS, "mm")) == {
        "conforms": (["A-1"], [0.01], "circle"),
        "undecided": (["A-2"], [0.14], "triangle-up"),
        "does not conform": (["A-3"], [0.3], "x"),
    }


def test_the_band_follows_each_build_s_own_limits():
    """A revised tolerance shows as a step."""
    lower, upper = drift_figure(SPOTS, "mm").data[:2]

    assert list(lower.y) == [-0.15, -0.15, -0.10]
    assert list(upper.y) == [0.15, 0.15, 0.10]
    assert upper.fill == "tonexty"


def test_one_sided_limits_are_a_line_without_a_band():
    """Nothing is shaded where there is no lower limit."""
    spots = [
        Spot("A-1", 0.01, None, 0.1, Verdict.CONFORMS, "", ""),
        Spot("A-2", 0.2, None, 0.1, Verdict.CONFORMS, "", ""),
    ]
    figure = drift_figure(spots, "mm")

    assert list(figure.data[0].y) == [0.1, 0.1]
    assert all(trace.fill in (None, "none") for trace in figure.data)


def test_a_line_for_each_bench_is_named_and_dashed_apart():
    """Two benches, two lines; builds keep their order on the axis."""
    figure = drift_figure(SPOTS, "mm")
    lines = [trace for trace in figure.data if trace.mode == "lines" and trace.name]

    assert [(line.name, list(line.x)) for line in lines] == [("North", ["A-1", "A-3"]), ("South", ["A-2"])]
    assert len({line.line.dash for line in lines}) == 2
    assert list(figure.layout.xaxis.categoryarray) == ["A-1", "A-2", "A-3"]


def test_an_empty_series_is_an_empty_figure():
    """No build, no trace, no error."""
    assert not [trace for trace in drift_figure([], "mm").data if trace.mode == "markers"]


def test_hover_says_the_verdict_in_words():
    """The words given to a point are those shown over it."""
    texts = [
        text for trace in drift_figure(SPOTS, "mm").data if trace.mode == "markers" for text in trace.text
    ]

    assert sorted(texts) == sorted(spot.says for spot in SPOTS)


def test_every_colour_of_a_figure_is_repainted_on_a_dark_screen():
    """The stylesheet has a rule for each colour that would not show on dark, and names no other."""
    css = (Path(dashboard.marks.__file__).parent / "assets" / "bench.css").read_text()
    repainted = set(re.findall(r'\[style\*="(?:fill|stroke): (rgb\([^)]*\))"\]', css))
    named = {
        value for name, value in vars(dashboard.marks).items() if name.isupper() and isinstance(value, str)
    }
    marked = {mark.colour for mark in dashboard.marks.MARKS.values()}
    shows_on_both = {"rgb(213, 94, 0)", "rgb(230, 159, 0)"}

    assert repainted == (named | marked) - shows_on_both
