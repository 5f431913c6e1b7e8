"""Changes a plan, one part at a time, in its file or as a new revision, checked as reading the file would."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Any
from urllib.parse import unquote

from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.addresses import plan_at
from dashboard.desk import Desk
from dashboard.forms import answers, choice, refusal
from dashboard.once import Once, token
from dashboard.page import Page, Query
from dashboard.pages.plans import asked_of, drawing, held, held_from
from dashboard.plan_draft import Draft, placed
from dashboard.plan_form import ADD, KIND, NEW, NEW_KIND, REMOVE, fields_of, path_of, told
from dashboard.plan_saving import open_again, saving
from dashboard.plan_saving import save as keep
from dashboard.shell import UNIT
from dashboard.words import plain
from qa.errors import PlanChanged, PlanError, QaError, ShopError

WHOLE = "."
"""Names the plan itself where a part could be chosen; no part is called so."""


def content(desk: Desk, query: Query) -> Component:
    """The fields of the part that the address names, as its file has them."""
    from qa.plans.files import judged_by

    shop = desk.shop(query.get("unit"))
    if not shop.plans:
        raise ShopError("there is no plan to change yet: begin one on the Plans page")
    plan, part = asked_of(shop, query)
    builds = len(judged_by(shop, desk.store(), plan))
    asked = {"model": plan.model, "revision": plan.name, "digest": plan.digest, "text": plan.text}
    draft = Draft(plan.text, part.name, f"{plan.name}.toml")
    return html.Div(
        [
            dcc.Store(id="plan-asked", data=asked | {"token": token()}),
            dcc.Store(id="plan-draft", data=draft.kept()),
            dcc.Store(id="plan-settled"),
            html.H1(["Change ", plain(plan.model)]),
            html.P(
                [
                    f"Plan {plan.name}, which holds {held_from(plan)}. ",
                    dcc.Link("Leave it as it is", href=plan_at(plan.model, part.name, plan.name)),
                ],
                className="lead where",
            ),
            html.Div(
                [
                    html.Div(
                        [
                            html.Div(_sheet(draft, {}), id="plan-sheet"),
                            saving(plan, builds, dt.datetime.now(shop.zone()).date()),
                        ]
                    ),
                    html.Div(_beside(draft, shop.unit), id="plan-beside", className="beside-form"),
                ],
                id="plan-form",
                className="drafted",
            ),
            answers("plan-told"),
        ]
    )


def _sheet(draft: Draft, beside: Mapping[str, str]) -> list[Component]:
    """What is chosen, and its fields."""
    found = draft.survey().plan
    parts = {name: item.title for name, item in found.parts.items()} | {WHOLE: "The plan itself"}
    words = f"Lengths are in {found.unit}, or carry a unit of their own: 1 1/4 in, 31.75 mm."
    chosen = choice("plan-section", "What to change", parts, draft.section or WHOLE)
    return [
        html.Div(chosen, className="choice"),
        html.P(words, className="aside"),
        fields_of(draft.table(), found, beside),
    ]


def _beside(draft: Draft, unit: str) -> list[Component]:
    """The part as drawn so far, and what each characteristic is held to."""
    part = draft.survey().plan.parts.get(draft.section)
    return (
        [drawing(part, unit), html.Div(held(part, unit), className="wide-only")]
        if part and part.characteristics
        else []
    )


def register(app: Dash, desk: Desk) -> None:
    """What is typed is drawn; parts and stations come and go; a plan is saved once."""
    kept: Once[Component] = Once()
    typed, draft = State({KIND: ALL}, "value"), State("plan-draft", "data")
    asked = State("plan-asked", "data")
    for name, output, when in (
        ("settled", Output("plan-settled", "data"), Input({KIND: ALL}, "value")),
        ("in_place", Output("plan-from", "hidden"), Input("plan-how", "value")),
    ):
        app.clientside_callback(ClientsideFunction("plan", name), output, when, prevent_initial_call=True)

    @app.callback(
        Output("plan-beside", "children"),
        Output("plan-changed", "children"),
        Output({KIND: ALL}, "error"),
        Output({NEW: ALL}, "error"),
        Output("plan-sheet", "children"),
        Output("plan-draft", "data"),
        Input("plan-settled", "data"),
        Input("plan-section", "value"),
        Input({ADD: ALL}, "n_clicks"),
        Input({NEW: ALL}, "n_submit"),
        Input({REMOVE: ALL}, "n_clicks"),
        typed,
        State({NEW: ALL}, "value"),
        State({NEW_KIND: ALL}, "value"),
        draft,
        asked,
        State(UNIT, "data"),
        prevent_initial_call=True,
    )
    def look(
        settled: object, section: str, adds: object, enters: object, removes: object, values: list[str],
        new: list[str], kinds: list[str], draft: dict[str, Any], asked: dict[str, str], unit: str | None,
    ) -> Any:  # fmt: skip
        fields, names = _fields(0, values), _by_id(1, new)
        act = _act()
        still = [no_update] * len(fields), [no_update] * len(names)
        if act is None:
            return no_update, no_update, *still, no_update, no_update
        try:
            was = Draft(**draft).typed(fields)
            now = _acted(was, act, section, names, _by_id(2, kinds))
        except PlanError as error:
            named = act.get(ADD, act.get(NEW)) if isinstance(act, dict) else None
            whys = [error.problems[0].why if name == named else None for name in names]
            return no_update, no_update if named else refusal(error), still[0], whys, no_update, no_update
        told = _beside(now, desk.shop(unit).unit), _so_far(asked, now)
        problems = now.problems()
        if now == was and fields.keys() == {item.id for item in now.table()}:
            return *told, [problems.get(name) for name in fields], still[1], no_update, no_update
        return *told, *still, _sheet(now, problems), now.kept()

    @app.callback(
        Output("plan-told", "children"),
        Output("plan-form", "hidden"),
        Output("plan-sheet", "children", allow_duplicate=True),
        Output("plan-draft", "data", allow_duplicate=True),
        Input("plan-save", "n_clicks"),
        typed,
        State("plan-how", "value"),
        State("plan-since", "value"),
        draft,
        asked,
        running=[(Output("plan-save", "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def save(
        clicks: int | None, values: list[str], how: str, since: str | None, draft: dict[str, Any],
        asked: dict[str, str],
    ) -> Any:  # fmt: skip
        if not clicks:
            return [no_update] * 4
        now = replace(Draft(**draft), strict=True)
        try:
            now = now.typed(_fields(0, values))
            answer = kept.do(asked["token"], lambda: keep(desk, asked, now, how, since))
            return answer, True, no_update, no_update
        except PlanError as error:
            beside, others = placed(error.problems, now.places())
            where = " What is wrong is said beside its field." if beside else ""
            lines = [f"Nothing was saved: the plan would not hold.{where}", *others]
            return refusal("\n".join(lines)), False, _sheet(now, beside), now.kept()
        except QaError as error:
            return _not_saved(desk, asked, now, error), False, no_update, no_update


def _not_saved(desk: Desk, asked: Mapping[str, str], draft: Draft, error: QaError) -> Component:
    link = [open_again(desk, asked, draft.section)] if isinstance(error, PlanChanged) else []
    return refusal(error, *link)


def _by_id(place: int, values: list[str]) -> dict[str, str]:
    """What fields hold, by the id of each."""
    ids = [next(iter(item["id"].values())) for item in ctx.states_list[place]]
    return dict(zip(ids, (value or "" for value in values), strict=True))


def _act() -> Any:
    """What was pressed or chosen, else that something was typed; None where fields were only drawn anew.

    What is pressed while typing is still settling comes together with it.
    """
    names = [ctx.triggered_prop_ids[item["prop_id"]] for item in ctx.triggered if item["value"]]
    return next((name for name in names if isinstance(name, dict)), names[-1] if names else None)


def _fields(place: int, values: list[str]) -> dict[str, str]:
    return {unquote(name): value for name, value in _by_id(place, values).items()}


def _acted(draft: Draft, act: Any, section: str, names: Mapping[str, str], kinds: Mapping[str, str]) -> Draft:
    """The draft after what was pressed or chosen; itself where something was only typed."""
    if act == "plan-section":
        return draft.shown("" if section == WHOLE else section)
    if isinstance(act, dict) and REMOVE in act:
        return draft.removed(path_of(act[REMOVE]))
    if isinstance(act, dict):
        key = act.get(ADD, act.get(NEW))
        name = names[key].strip()
        kind = kinds.get(key) or name
        return draft.added(path_of(key), name, kind)
    return draft


def _so_far(asked: Mapping[str, str], draft: Draft) -> Component | None:
    from qa.plans.changes import changes

    found = told(changes(asked["text"], draft.text, draft.file))
    return html.Ul(found, className="reasons") if found else None


PAGE = Page("plan_edit", "/plans/edit", "Change a plan", content, live=False, register=register)
