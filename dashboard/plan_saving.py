"""How a change to a plan is kept: in its file or as a new revision, and what either means for the builds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import plan_at, plan_edit_at
from dashboard.desk import Desk
from dashboard.forms import button, done, one_of
from dashboard.plan_draft import Draft
from dashboard.plan_form import told
from dashboard.words import counted
from qa.errors import QaError, ShopError

if TYPE_CHECKING:
    from qa.plans.plan import Plan

IN_PLACE, REVISION = "in place", "revision"


def saving(plan: Plan, builds: int, today: dt.date) -> html.Div:
    """How the change is kept; what that means for builds that have readings already."""
    judged = f"{counted(builds, 'build is', 'builds are')} judged by it, and will be judged anew"
    ways = {
        REVISION: "A new revision beside it: builds begun earlier keep this one",
        IN_PLACE: f"Change this plan: {judged if builds else 'no build is judged by it yet'}",
    }
    return html.Div(
        [
            html.H2("How to save it"),
            html.P(
                "No reading is lost or altered by either: each keeps the revision it was stored under."
                if builds
                else "No build has readings under this plan yet.",
                className="aside",
            ),
            html.Div(id="plan-changed"),
            one_of("plan-how", "Save", ways, REVISION if builds else IN_PLACE),
            html.Div(
                dmc.DateInput(
                    id="plan-since",
                    label="For builds begun from",
                    value=today.isoformat(),
                    valueFormat="YYYY-MM-DD",
                    w=260,
                ),
                id="plan-from",
                hidden=not builds,
            ),
            button("plan-save", "Save the plan"),
        ],
        className="form",
    )


def save(desk: Desk, asked: Mapping[str, str], draft: Draft, how: str, since: str | None) -> Component:
    """Keep a draft of the plan that was `asked`, the way chosen; `since` is the day of a new revision.

    PlanError where the plan would not hold, PlanChanged where its file was changed meanwhile, ShopError where
    nothing was.
    """
    from qa.plans.changes import changes
    from qa.plans.edit import revised
    from qa.plans.files import add_revision, judged_since, left_behind, plan_path, save_plan, unchanged
    from qa.plans.plan import read_plan

    unchanged(desk.folder / "plans" / Path(draft.file).name, asked["digest"])
    shop = desk.shop()
    plan = next(plan for plan in shop.plans[asked["model"]] if plan.name == asked["revision"])
    read_plan(draft.text, draft.file)
    found = told(changes(plan.text, draft.text, draft.file))
    if not found:
        raise ShopError("Nothing was changed, so nothing was saved.")
    if how != REVISION:
        left_behind(desk.store(), plan, draft.text)
        save_plan(plan_path(shop, plan), draft.text, asked["digest"])
        return _saved(f"{draft.file} is saved.", found, plan_at(plan.model, draft.section, plan.name))
    day = _day(since)
    builds = judged_since(shop, desk.store(), plan, day)
    made = add_revision(shop, revised(draft.text, draft.file, day))
    judged = f" {counted(len(builds), 'build is', 'builds are')} judged by it at once." if builds else ""
    words = f"{made.name} is written; it holds for builds begun from {day}.{judged}"
    return _saved(words, found, plan_at(plan.model, draft.section, made.stem))


def open_again(desk: Desk, asked: Mapping[str, str], section: str) -> html.P:
    """The form of a plan's file as it is by now, in a tab of its own: what was typed here stays in sight."""
    model, part = asked["model"], section
    with suppress(QaError):  # that page says what is wrong with it
        for plan in (plan for plans in desk.shop().plans.values() for plan in plans):
            if plan.name == asked["revision"]:
                model, part = plan.model, section if section in plan.parts else ""
    href = plan_edit_at(model, part, asked["revision"])
    return html.P(html.A("Open it again, beside this one", href=href, target="_blank"))


def _day(since: str | None) -> dt.date:
    try:
        return dt.date.fromisoformat((since or "")[:10])
    except ValueError as error:
        raise ShopError("Give the day from which the new revision holds, such as 2026-01-05.") from error


def _saved(words: str, found: list[Component], href: str) -> Component:
    return done(
        html.P(words, className="lead"),
        html.Ul(found, className="reasons"),
        html.P(dcc.Link("See the plan", href=href)),
    )
