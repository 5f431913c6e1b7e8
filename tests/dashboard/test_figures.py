"""Figures say what the values say."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

import dashboard.marks
from dashboard.figures.drift import drift_figure, spot_size
from dashboard.figures.drift_frame import Drawing, Flag, Lines, Spot, span_of
from dashboard.figures.drift_long import Bin, Outside, long_figure
from dashboard.figures.drift_small import small_figure
from dashboard.figures.passes import MOST_POINTS, Run, passes_figure
from qa.conformity import Verdict

SPOTS = [
    Spot("A-1", 0.01, -0.15, 0.15, Verdict.CONFORMS, "North", "A-1: conforms"),
    Spot("A-2", 0.14, -0.15, 0.15, Verdict.UNDECIDED, "South", "A-2: undecided"),
    Spot("A-3", 0.30, -0.10, 0.10, Verdict.DOES_NOT_CONFORM, "North", "A-3: does not conform"),
]
DRAWING = Drawing(SPOTS, "from target, mm")
CHARTED = replace(
    DRAWING,
    expected=Lines([None, 0.0, 0.1], [None, -0.1, -0.12], [None, 0.1, 0.12]),
    average=Lines([None, 0.02, 0.05], [None, -0.01, -0.02], [None, 0.01, 0.02]),
    called=[2],
    average_called=[1, 2],
    alarms=[(1, "1")],
    flags=[Flag(2, "A", "new fence", anew=True), Flag(1, "B", "swept", anew=False)],
)


def markers(figure) -> dict[str, tuple[list[str], list[float], str]]:
    return {
        trace.name: (list(trace.x), list(trace.y), trace.marker.symbol)
        for trace in figure.data
        if trace.mode == "markers" and trace.x
    }


def test_every_build_is_drawn_once_with_the_shape_of_its_verdict():
    """Place, height and symbol of each point are the values given."""
    assert markers(drift_figure(DRAWING)) == {
        "conforms": (["A-1"], [0.01], "circle"),
        "undecided": (["A-2"], [0.14], "triangle-up"),
        "does not conform": (["A-3"], [0.3], "x"),
    }


def test_points_without_a_verdict_are_plain():
    """A mean of stations is no verdict, and is not drawn as one."""
    figure = drift_figure(Drawing([replace(spot, verdict=None) for spot in SPOTS], ""))

    assert markers(figure) == {"builds": (["A-1", "A-2", "A-3"], [0.01, 0.14, 0.3], "circle")}


def test_the_band_follows_each_build_s_own_limits():
    """A revised tolerance shows as a step."""
    lower, upper = drift_figure(DRAWING).data[:2]

    assert list(lower.y) == [-0.15, -0.15, -0.10]
    assert list(upper.y) == [0.15, 0.15, 0.10]
    assert upper.fill == "tonexty"


def test_one_sided_limits_are_a_line_without_a_band():
    """Nothing is shaded where there is no lower limit."""
    spots = [replace(spot, lower=None) for spot in SPOTS]
    figure = drift_figure(Drawing(spots, "mm"))

    assert list(figure.data[0].y) == [0.15, 0.15, 0.10]
    assert all(trace.fill in (None, "none") for trace in figure.data)


def test_groups_have_a_shape_and_a_line_each():
    """Two benches, two shapes, two dashes; builds keep their order on the axis."""
    figure = drift_figure(replace(DRAWING, grouped=True))
    lines = [trace for trace in figure.data if trace.mode == "lines" and trace.name]

    assert markers(figure) == {
        "North": (["A-1", "A-3"], [0.01, 0.3], "circle"),
        "South": (["A-2"], [0.14], "square-open"),
    }
    assert [(line.name, list(line.x)) for line in lines] == [("North", ["A-1", "A-3"]), ("South", ["A-2"])]
    assert len({line.line.dash for line in lines}) == 2
    assert list(figure.layout.xaxis.categoryarray) == ["A-1", "A-2", "A-3"]


def test_what_was_to_be_expected_is_drawn_as_given():
    """Centre and both limits, a gap where the chart says nothing."""
    lines = [list(trace.y) for trace in drift_figure(CHARTED).data if trace.name == "expected"]

    assert lines == [[None, 0.0, 0.1], [None, -0.1, -0.12], [None, 0.1, 0.12]]


def test_the_moving_average_has_a_strip_of_its_own():
    """With its own limits, and no strip where there is no average."""
    figure = drift_figure(CHARTED)
    below = [trace for trace in figure.data if trace.yaxis == "y2"]

    assert [list(t.y) for t in below if t.name == "moving average"] == [[None, 0.02, 0.05]]
    assert [list(t.y) for t in below if t.name == "limits"] == [[None, -0.01, -0.02], [None, 0.01, 0.02]]
    assert figure.layout.yaxis2.domain[1] < figure.layout.yaxis.domain[0]
    assert "yaxis2" not in drift_figure(DRAWING).to_plotly_json()["layout"]


def test_a_ring_about_every_build_that_signals():
    """On the values and on the average apart, and the number of its run beside the first."""
    figure = drift_figure(CHARTED)
    rings = {t.yaxis: (list(t.x), list(t.y)) for t in figure.data if t.name == "signals"}
    numbers = [(note.x, note.y) for note in figure.layout.annotations if note.text == "1"]

    assert rings == {"y": (["A-3"], [0.3]), "y2": (["A-2", "A-3"], [0.02, 0.05])}
    assert numbers == [("A-2", 0.14)]


def test_a_fix_is_a_line_before_its_first_build_with_its_words():
    """Unbroken where the chart begins anew, dotted where it goes on; letters near each other do not cover."""
    figure = drift_figure(CHARTED)
    lines = {shape.x0: shape.line.dash for shape in figure.layout.shapes if shape.yref == "paper"}
    notes = {note.text: (note.x, note.hovertext) for note in figure.layout.annotations if note.hovertext}
    raised = [note.yshift for note in figure.layout.annotations if note.hovertext]

    assert lines == {1.5: "solid", 0.5: "dot"}
    assert notes == {"A": (1.5, "new fence"), "B": (0.5, "swept")}
    assert raised == [0, 20]


def test_the_axis_takes_in_the_builds_and_sane_limits_only():
    """Limits of the fourth build may be twenty times as wide as all else: those are cut."""
    wide = replace(DRAWING, expected=Lines([0] * 3, [None, -40, -0.2], [None, 40, 0.4]))
    low, high = span_of(wide)

    assert low < -0.2 < 0.4 < high < 1
    assert span_of(Drawing([], "mm")) is None


@pytest.mark.parametrize("figure", [drift_figure, small_figure])
def test_an_empty_series_is_an_empty_figure(figure):
    """No build, no point, no error."""
    assert markers(figure(Drawing([], "mm"))) == {}


def test_hover_says_what_was_given_in_words():
    """The words given to a point are those shown over it."""
    texts = [text for trace in drift_figure(DRAWING).data if trace.text for text in trace.text]

    assert sorted(texts) == sorted(spot.says for spot in SPOTS)


def test_points_are_smaller_where_there_are_many():
    """Never larger with more builds."""
    sizes = [spot_size(n) for n in (1, 30, 100, 240)]

    assert sizes == sorted(sizes, reverse=True)
    assert len(set(sizes)) == 4


def test_a_small_figure_shows_course_rings_and_the_ends():
    """Every build, each that signals once, the first and last by name, its tolerance at the side."""
    figure = small_figure(CHARTED)
    course = next(trace for trace in figure.data if trace.name == "builds")

    assert (list(course.x), list(course.y)) == (["A-1", "A-2", "A-3"], [0.01, 0.14, 0.3])
    assert markers(figure)["signals"][0] == ["A-2", "A-3"]
    assert list(figure.layout.xaxis.tickvals) == ["A-1", "A-3"]
    assert list(figure.layout.yaxis.tickvals) == [-0.10, 0.10]
    assert [shape.x0 for shape in figure.layout.shapes if shape.yref == "paper"] == [1.5]


def test_a_long_figure_draws_bins_and_each_build_outside():
    """Least, greatest and mean as given; crosses only where something is out of tolerance."""
    bins = [
        Bin("A-1", "A-5", 0, -0.1, 0.02, 0.1, -0.15, 0.15),
        Bin("A-6", "A-9", 5, -0.2, 0.0, 0.3, -0.15, 0.15),
    ]
    figure = long_figure(
        bins, [Outside("A-7", 6, -0.2, "A-7: out"), Outside("A-8", 7, 0.3, "A-8: out")], "mm", True
    )
    drawn = {trace.name: (list(trace.x), list(trace.y)) for trace in figure.data if trace.name}

    assert drawn == {
        "least": ([0, 5], [-0.1, -0.2]),
        "greatest": ([0, 5], [0.1, 0.3]),
        "mean": ([0, 5], [0.02, 0.0]),
        "outside": ([6, 7], [-0.2, 0.3]),
    }
    assert list(figure.layout.xaxis.ticktext) == ["A-1", "A-6"]


@pytest.mark.parametrize(("stations", "passes"), [(1, 3), (4, 5000), (2000, 2)])
def test_of_many_passes_the_newest_are_drawn(stations, passes):
    """Under their own numbers, and never more points than a browser draws at once."""
    runs = [Run(f"S-{n}", tuple(float(value) for value in range(1, passes + 1))) for n in range(stations)]
    drawn = passes_figure(runs, None, None, None, "mm").data

    assert all(list(trace.x) == list(trace.y) for trace in drawn)
    assert all(trace.x[-1] == passes for trace in drawn)
    assert sum(len(trace.x) for trace in drawn) <= MOST_POINTS


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


def test_figures_of_drift_use_no_other_colour():
    """Each colour in any of the three figures is one the stylesheet knows."""
    bins = [Bin("A-1", "A-5", 0, -0.1, 0.02, 0.1, -0.15, 0.15)]
    figures = [drift_figure(CHARTED), small_figure(CHARTED), long_figure(bins, [], "mm", True)]
    used = {
        c for figure in figures for c in re.findall(r"rgba?\([^)]*\)|#[0-9a-fA-F]{3,8}", figure.to_json())
    }
    known = {
        value for name, value in vars(dashboard.marks).items() if name.isupper() and isinstance(value, str)
    }
    known |= {mark.colour for mark in dashboard.marks.MARKS.values()}

    assert used <= known | {"rgba(0,0,0,0)"}
