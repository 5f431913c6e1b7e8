"""What a page says where it has nothing to draw, or cannot."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import bench_at
from qa.errors import PlanError, PlanProblem, QaError


def nothing_yet(shop_name: str) -> Component:
    """A shop without a reading: what to do next."""
    return html.Div(
        [
            html.P(f"Nothing has been measured in {shop_name} yet.", className="lead"),
            html.P(["Read a part ", dcc.Link("at the bench", href=bench_at()), "."]),
            html.P("Or load a log you already keep:"),
            html.Pre("dryfit load FILE"),
            html.P("This page fills by itself as soon as there is something to show.", className="aside"),
        ],
        className="notice",
    )


def no_such_page() -> Component:
    """An address that leads nowhere."""
    return html.Div(
        [
            html.H1("No such page"),
            html.P(["There is nothing at this address. ", dcc.Link("See the builds", href="/")]),
        ],
        className="page",
    )


def refused(error: QaError) -> Component:
    """What stands in the way of a page: each problem of the plans with its place, or the error's words."""
    if isinstance(error, PlanError):
        return html.Div(
            [
                html.P("The shop's files have problems, so nothing is judged until they are put right."),
                html.Ul([_problem(item) for item in error.problems], className="problems"),
                html.P("Save the file, and this page looks again by itself.", className="aside"),
            ],
            className="notice problem",
            role="alert",
        )
    lines = [html.P(line) for line in str(error).splitlines()]
    return html.Div(lines, className="notice problem", role="alert")


def _problem(item: PlanProblem) -> html.Li:
    place = item.file if item.line is None else f"{item.file}, line {item.line}"
    return html.Li([html.Strong(place), html.Code(item.key), html.Span(item.why)])
