"""A series of builds as the points of a figure, as sentences and as a table: three ways to say the same."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dash import dcc, html

from dashboard.addresses import build_at
from dashboard.figures.drift import Spot
from dashboard.marks import marked
from dashboard.words import amount, counted, fine, limits, listed, on_axis, signed, unbroken

if TYPE_CHECKING:
    from qa.drift import Point
    from qa.shop import Shop


def spots_of(shop: Shop, points: Sequence[Point], by_bench: bool) -> list[Spot]:
    """The points of a series as the figure takes them, in the shop's unit."""
    from qa.series_summary import from_target

    told = {point.build: point for point in points}
    found = []
    for row in from_target(points):
        point = told[row.build]
        unit = point.judged.unit
        place, lower, upper = (on_axis(v, unit, shop.unit) for v in (row.deviation, row.lower, row.upper))
        line = (point.bench or "bench not recorded") if by_bench else ""
        found.append(
            Spot(
                row.build,
                place or 0.0,
                lower,
                upper,
                point.judged.verdict,
                line,
                _says(shop, point),
                point.judged.target is not None,
            )
        )
    return found


def _says(shop: Shop, point: Point) -> str:
    judged = point.judged
    told = [
        f"<b>{point.build}</b>: {amount(judged.value, judged.unit, shop.unit)}, {judged.verdict}",
        f"{signed(judged.deviation, judged.unit, shop.unit)} from the target",
        f"allowed {limits(judged, shop.unit)}",
        listed([text for text in (f"{point.bench} bench" if point.bench else "", point.instrument) if text]),
    ]
    return "<br>".join(text for text in told if text)


def in_short(shop: Shop, points: Sequence[Point]) -> str:
    """The series in two or three sentences."""
    from qa.series_summary import summarise

    found = summarise(points)
    places = fine(found.unit, shop.unit)
    said = [
        f"{counted(found.builds, 'build', 'builds')}, {points[0].build}"
        + (f" to {points[-1].build}." if found.builds > 1 else "."),
        f"Mean {signed(found.mean_deviation, found.unit, shop.unit, places)} from the target"
        + (
            "."
            if found.standard_deviation is None
            else f", standard deviation {amount(found.standard_deviation, found.unit, shop.unit, places)}."
        ),
        _told(found.outside, "does not conform", "do not conform") or "None fails to conform.",
        _told(found.undecided, "is undecided", "are undecided"),
    ]
    return " ".join(text for text in said if text)


def _told(builds: Sequence[str], one: str, many: str) -> str:
    return f"{len(builds)} {one if len(builds) == 1 else many}: {unbroken(listed(builds))}." if builds else ""


def series_table(shop: Shop, points: Sequence[Point]) -> html.Table:
    """Every build of a series, the newest first."""
    head = html.Tr(
        [
            html.Th("Build", scope="col"),
            html.Th("Read", scope="col", className="number"),
            html.Th("From target", scope="col", className="number"),
            html.Th("Bench", scope="col", className="wide-only"),
            html.Th("Instrument", scope="col", className="wide-only"),
            html.Th("Verdict", scope="col"),
        ]
    )
    rows = [
        html.Tr(
            [
                html.Th(dcc.Link(point.build, href=build_at(point.build)), scope="row"),
                html.Td(amount(point.judged.value, point.judged.unit, shop.unit), className="number"),
                html.Td(signed(point.judged.deviation, point.judged.unit, shop.unit), className="number"),
                html.Td(point.bench or "–", className="wide-only"),
                html.Td(point.instrument or "–", className="wide-only"),
                html.Td(marked(point.judged.verdict)),
            ]
        )
        for point in reversed(points)
    ]
    return html.Table([html.Thead(head), html.Tbody(rows)], className="plain")
