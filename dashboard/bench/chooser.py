"""Choosing what to read: the build, then the part, by links that a finger in a glove can hit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard.bench.asked import bench_of
from dashboard.bench.lines import recent_links, waits
from dashboard.marks import mark
from dashboard.shell import mover
from qa.bench.at_bench import Chosen, recent
from qa.checking import check, plan_of
from qa.judge import JudgedPart
from qa.plans.planned import Plan

if TYPE_CHECKING:
    from dashboard.desk import Desk
    from qa.shop import Shop

NEWEST = 12


def choose_build(desk: Desk, shop: Shop) -> Component:
    """Where to go on, the newest builds, a new one; and what was heard meanwhile."""
    from qa.store.newest import newest

    last = recent(desk.bench_store())
    builds = [] if desk.bench_store().kept_here() else newest(desk.store(), most=NEWEST)
    return html.Div(
        [
            html.H1("Bench"),
            html.P("Choose what to read, or scan the code on a part's ticket.", className="lead"),
            html.Div(waits(desk), id="bench-waits"),
            *([html.H2("Go on with"), recent_links(last, _titles(desk, shop, last))] if last else []),
            html.H2("A build"),
            html.Ul(
                [html.Li(dcc.Link(html.Strong(name), href=bench_of(name))) for name in builds],
                className="bench-links",
            )
            if builds
            else None,
            _named(shop, bool(builds)),
        ]
    )


def _titles(desk: Desk, shop: Shop, parts: list[Chosen]) -> dict[tuple[str, str], str]:
    from qa.errors import QaError

    found = {}
    for item in parts:
        try:
            plan = plan_of(shop, desk.bench_store(), item.build, item.model or None)
        except QaError:
            continue
        if item.part in plan.parts:
            found[item.build, item.part] = plan.parts[item.part].title
    return found


def _named(shop: Shop, others: bool) -> html.Div:
    """A field for any build by its name, and its model where there are several."""
    words = "Another build, or a new one" if others else "Name of the build"
    return html.Div(
        [
            dmc.TextInput(
                id="bench-build", label=words, placeholder="press Enter after the name", debounce=True
            ),
            dmc.Select(
                id="bench-model",
                label="Model of a new build",
                data=list(shop.plans),
                value=next(iter(shop.plans)) if len(shop.plans) == 1 else None,
                style={"display": "none"} if len(shop.plans) < 2 else {},
            ),
            mover(),
        ],
        className="choice",
    )


def choose_part(desk: Desk, shop: Shop, at: Chosen) -> Component:
    """Every part of a build's plan with its verdict so far; ShopError where the build has no plan."""
    store = desk.bench_store()
    plan = plan_of(shop, store, at.build, at.model or None)
    known, kept = store.build(at.build), store.kept_here()
    begun, judged = "", None
    if kept:
        begun = f"It is read by the plan of {plan.model} that is kept here."
    elif known:
        judged = {part.part: part for part in check(shop, store, at.build)[0].parts}
    else:
        begun, judged = f"A new build of {plan.model}; it begins with its first reading.", {}
    return html.Div(
        [
            html.H1(["Bench ", html.Span(at.build)]),
            html.P(f"{begun} Choose the part to read.", className="lead"),
            html.Div(waits(desk), id="bench-waits"),
            html.Ul([_part_link(plan, name, judged, at) for name in plan.parts], className="bench-links"),
            html.P(dcc.Link("Another build", href=bench_of())),
        ]
    )


def _part_link(plan: Plan, name: str, judged: dict[str, JudgedPart] | None, at: Chosen) -> html.Li:
    """`judged` is None where nobody can say."""
    verdict = judged[name].verdict if judged and name in judged else None
    shown: list[Component | str] = [mark(verdict), " "] if verdict else []
    words = html.Span("" if judged is None else f" {verdict or 'not measured'}", className="quiet")
    return html.Li(
        dcc.Link(
            [*shown, html.Strong(plan.parts[name].title), words],
            href=bench_of(at.build, name, model=at.model, bench=at.bench),
        )
    )
