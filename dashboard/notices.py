"""What a page says where it has nothing to draw, or cannot."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from qa.errors import PlanError, PlanProblem, QaError


def nothing_yet(shop_name: str) -> Component:
    """A shop without a reading: what to do next."""
    return html.Div(
        [
            html.P(f"Nothing has been measured in {shop_name} yet.", className="lead"),
            html.P("Read a part at the bench:"),
            html.Pre("dryfit measure BUILD PART"),
            html.P("Or load a log you already keep:"),
            html.Pre("dryfit load FILE"),
            html.P("This page fills by itself as soon as there is something to show.", className="aside"),
        ],
        className="notice",
    )


def refused(error: QaError) -> Component:
    """What stands in the way of a page: each problem of the plans with its place, or the error's words."""
    if isinstance(error, PlanError):
        return html.Div(
            [
                html.P("The shop's files have problems, so nothing is judged until they are put right."),
                html.Div(_problem_table(error.problems), className="scroll", tabIndex=0),
                html.P("Save the file, and this page looks again by itself.", className="aside"),
            ],
            className="notice problem",
            role="alert",
        )
    lines = [html.P(line) for line in str(error).splitlines()]
    return html.Div(lines, className="notice problem", role="alert")


def _problem_table(problems: tuple[PlanProblem, ...]) -> html.Table:
    head = html.Tr([html.Th(text, scope="col") for text in ("File", "Line", "Key", "What is wrong")])
    rows = [
        html.Tr([html.Td(item.file), html.Td(item.line or "–"), html.Td(item.key or "–"), html.Td(item.why)])
        for item in problems
    ]
    return html.Table([html.Thead(head), html.Tbody(rows)], className="plain")
