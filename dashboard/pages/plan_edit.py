"""Changes one part of a plan, in its file or as a new revision, checked as reading the file would."""

from __future__ import annotations

import datetime as dt
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.addresses import plan_at
from dashboard.desk import Desk
from dashboard.forms import answers, done, refusal
from dashboard.once import Once
from dashboard.page import Page, Query
from dashboard.pages.plans import asked_of, held_from
from dashboard.plan_form import KIND, REVISION, changes, form, placed
from dashboard.words import counted
from qa.errors import PlanError, QaError, ShopError


def content(desk: Desk, query: Query) -> Component:
    """The fields of the part that the address names, as its file has them."""
    from qa.plans.edit import fields_of
    from qa.plans.files import judged_by

    shop = desk.shop()
    if not shop.plans:
        raise ShopError("there is no plan to change yet: write one, or start with `dryfit new`")
    plan, part = asked_of(shop, query)
    file = f"{plan.name}.toml"
    fields = fields_of(plan.text, part.name, file)
    builds = len(judged_by(shop, desk.store(), plan))
    asked = {"model": plan.model, "part": part.name, "revision": plan.name, "digest": plan.digest}
    return html.Div(
        [
            dcc.Store(id="plan-asked", data=asked),
            html.H1(["Change ", part.title]),
            html.P(
                [
                    f"of plan {plan.name}, which holds {held_from(plan)}. ",
                    dcc.Link("Leave it as it is", href=plan_at(plan.model, part.name, plan.name)),
                ],
                className="lead where",
            ),
            form(fields, plan.unit, builds, dt.datetime.now(shop.zone()).date()),
            answers("plan-told"),
        ]
    )


def register(app: Dash, desk: Desk) -> None:
    """A plan is saved once; each problem goes to its field."""
    kept: Once[Component] = Once()

    @app.callback(
        Output("plan-told", "children"),
        Output("plan-form", "hidden"),
        Output({KIND: ALL}, "error"),
        Input("plan-save", "n_clicks"),
        State({KIND: ALL}, "value"),
        State("plan-how", "value"),
        State("plan-since", "value"),
        State("plan-asked", "data"),
        running=[(Output("plan-save", "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def save(
        clicks: int | None, values: list[str], how: str, since: str | None, asked: dict[str, str]
    ) -> Any:
        ids = [item["id"][KIND] for item in ctx.states_list[0]]
        if not clicks:
            return no_update, no_update, [no_update] * len(ids)
        typed = dict(zip(ids, [value or "" for value in values], strict=True))
        name = repr((asked["digest"], how, since, sorted(typed.items())))
        blank: list[str | None] = [None] * len(ids)
        try:
            return kept.do(name, lambda: _save(desk, asked, typed, how, since)), True, blank
        except PlanError as error:
            beside, others = placed(error.problems, ids)
            told = ["Nothing was saved: the plan would not hold.", *others]
            return refusal("\n".join(told)), False, [beside.get(item) for item in ids]
        except QaError as error:
            return refusal(error), False, blank


def _save(desk: Desk, asked: dict[str, str], typed: dict[str, str], how: str, since: str | None) -> Component:
    from qa.plans.edit import edited, fields_of, revised
    from qa.plans.files import add_revision, judged_since, plan_path, save_plan

    shop = desk.shop()
    plan, part = asked_of(shop, asked)
    file = f"{plan.name}.toml"
    if plan.digest != asked["digest"]:
        raise ShopError(f"{file} was changed since this page was opened, so nothing was saved: open it again")
    fields = fields_of(plan.text, part.name, file)
    told = changes(fields, typed)
    text = edited(plan.text, part.name, file, typed)
    if how != REVISION:
        if not told:
            raise ShopError("Nothing was changed, so nothing was saved.")
        save_plan(plan_path(shop, plan), text, asked["digest"])
        return _saved(f"{file} is saved.", told, plan_at(plan.model, part.name, plan.name))
    day = _day(since)
    builds = judged_since(shop, desk.store(), plan, day)
    made = add_revision(shop, revised(text, file, day))
    judged = f" {counted(len(builds), 'build is', 'builds are')} judged by it at once." if builds else ""
    words = f"{made.name} is written; it holds for builds begun from {day}.{judged}"
    return _saved(words, told, plan_at(plan.model, part.name, made.stem))


def _day(since: str | None) -> dt.date:
    try:
        return dt.date.fromisoformat((since or "")[:10])
    except ValueError as error:
        raise ShopError("Give the day from which the new revision holds, such as 2026-01-05.") from error


def _saved(words: str, told: list[Component], href: str) -> Component:
    return done(
        html.P(words, className="lead"),
        html.Ul(told, className="reasons") if told else html.P("No amount was changed."),
        html.P(dcc.Link("See the plan", href=href)),
    )


PAGE = Page("plan_edit", "/plans/edit", "Change a plan", content, live=False, register=register)
