"""Begins the plan of a new model from a starter plan, to be changed into one's own."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.addresses import plan_at, plan_edit_at
from dashboard.desk import Desk
from dashboard.forms import answers, button, choice, done, field, refusal
from dashboard.once import Once, token
from dashboard.page import Page, Query
from qa.errors import QaError


def content(desk: Desk, query: Query) -> Component:
    """The model's name, and what to start with."""
    from qa.starter import STARTERS

    shop = desk.shop()
    starters = {name: words.capitalize() for name, (words, _) in STARTERS.items()}
    return html.Div(
        [
            dcc.Store(id="plan-new-asked", data=token()),
            html.H1("New plan"),
            html.P(
                [
                    f"For a model that {shop.name} has no plan of yet. ",
                    dcc.Link("Back to the plans", href=plan_at()),
                ],
                className="lead where",
            ),
            html.Div(
                [
                    field("plan-new-model", "Model", hint="such as tenor-ukulele", needed=True),
                    choice(
                        "plan-new-starter", "Start with", starters, next(iter(starters)),
                        "its sizes are examples, to be replaced by yours",
                    ),
                    button("plan-new-write", "Write the plan"),
                ],
                id="plan-new-form",
                className="form",
            ),
            answers("plan-new-told"),
        ]
    )  # fmt: skip


def register(app: Dash, desk: Desk) -> None:
    """The plan is written once."""
    kept: Once[Component] = Once()

    @app.callback(
        Output("plan-new-told", "children"),
        Output("plan-new-form", "hidden"),
        Input("plan-new-write", "n_clicks"),
        State("plan-new-model", "value"),
        State("plan-new-starter", "value"),
        State("plan-new-asked", "data"),
        running=[(Output("plan-new-write", "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def write(clicks: int | None, model: str | None, starter: str, asked: str) -> Any:
        if not clicks:
            return no_update, no_update
        try:
            return kept.do(asked, lambda: _write(desk, model or "", starter)), True
        except QaError as error:
            return refusal(error), False


def _write(desk: Desk, model: str, starter: str) -> Component:
    from qa.plans.files import add_plan
    from qa.starter import starter_plan

    made = add_plan(desk.shop(), starter_plan(starter), model)
    name = model.strip()
    part = next(iter(desk.shop().plan(name).parts))
    return done(
        html.P(f"{made.name} is written.", className="lead"),
        html.P(dcc.Link("Change it into yours", href=plan_edit_at(name, part, made.stem))),
        html.P(dcc.Link("See the plan", href=plan_at(name))),
    )


PAGE = Page("plan_new", "/plans/new", "New plan", content, live=False, register=register)
