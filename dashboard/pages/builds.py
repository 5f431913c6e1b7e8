"""Builds: every part of every build at a glance, and the same in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.addresses import build_at, drift_of
from dashboard.aria import aria
from dashboard.desk import Desk
from dashboard.marks import legend, mark, marked
from dashboard.notices import nothing_yet
from dashboard.page import Page, Query
from dashboard.shell import ADDRESS, HERE, moved
from dashboard.words import counted, listed, plain
from qa.judge import WORST_FIRST, JudgedBuild, JudgedPart

if TYPE_CHECKING:
    from qa.shop import Shop
    from qa.store import Build

ALL = "every model"


def content(desk: Desk, query: Query) -> Component:
    """The verdicts on every build, the newest first, for one model or for all."""
    shop, found = desk.shop(), desk.verdicts()
    wanted = query.get("model", "")
    builds = [item for item in reversed(found.builds) if wanted in ("", item.model)]
    models = list(dict.fromkeys(item.model for item in found.builds))
    if not found.builds and not found.problems:
        return html.Div([html.H1("Builds"), nothing_yet(shop.name)])
    return html.Div(
        [
            html.H1("Builds"),
            html.P(_in_short(builds), className="lead"),
            _filter(models, wanted) if len(models) > 1 else None,
            *(html.P(f"{name} cannot be judged: {why}", role="alert") for name, why in found.problems),
            legend(),
            *(_sheet(shop, model, builds) for model in models if wanted in ("", model)),
            html.H2("In words", id="in-words", tabIndex=-1),
            _word_table(builds, desk.builds()),
        ]
    )


def _in_short(builds: Sequence[JudgedBuild]) -> str:
    fit = sum(item.fit for item in builds)
    return f"{counted(len(builds), 'build', 'builds')}, {fit or 'none'} fit in every part."


def _filter(models: Sequence[str], wanted: str) -> Component:
    return dmc.Select(
        id="builds-model", label="Model", data=[ALL, *models], value=wanted or ALL, allowDeselect=False, w=280
    )


def _sheet(shop: Shop, model: str, builds: Iterable[JudgedBuild]) -> Component:
    """One model as a table of marks: builds down, parts across."""
    of_model = [item for item in builds if item.model == model]
    parts = list(dict.fromkeys(part.part for item in of_model for part in item.parts))
    titles = part_titles(shop, model)
    head = html.Tr(
        [
            html.Th("Build", scope="col"),
            *(
                html.Th(
                    dcc.Link(html.Span(titles.get(part, plain(part))), href=drift_of(part)),
                    scope="col",
                    className="part",
                )
                for part in parts
            ),
        ]
    )
    return html.Div(
        html.Table(
            [
                html.Caption([html.Span("Model ", className="quiet"), plain(model)]),
                html.Thead(head),
                html.Tbody([_row(item, parts, titles) for item in of_model]),
            ],
            className="marks-sheet",
        ),
        className="scroll",
        role="region",
        tabIndex=0,
        **aria(label=f"Verdicts on {plain(model)}"),
    )


def _row(build: JudgedBuild, parts: Sequence[str], titles: Mapping[str, str]) -> html.Tr:
    by_name = {part.part: part for part in build.parts}
    name = html.Th(dcc.Link(build.build, href=build_at(build.build)), scope="row")
    cells = [_cell(build.build, by_name.get(part), titles.get(part, plain(part))) for part in parts]
    return html.Tr([name, *cells])


def _cell(build: str, part: JudgedPart | None, title: str) -> html.Td:
    if part is None:
        return html.Td(html.Span("not in its plan", className="heard"))
    words = html.Span(f"{title}: {part.verdict}", className="heard")
    return html.Td(
        html.A(
            [mark(part.verdict), words],
            href=f"{build_at(build)}#{part.part}",
            className="cell",
            title=f"{build} {title}: {part.verdict}",
            tabIndex=-1,  # the same place is reached from the build's name, without hundreds of stops
        )
    )


def _word_table(builds: Sequence[JudgedBuild], begun: Mapping[str, Build]) -> html.Table:
    head = html.Tr(
        [html.Th(text, scope="col") for text in ("Build", "Begun", "Parts fit", "What stands open")]
    )
    rows = [
        html.Tr(
            [
                html.Th(dcc.Link(item.build, href=build_at(item.build)), scope="row"),
                html.Td(str(begun[item.build].begun) if item.build in begun else "–", className="begun"),
                html.Td(f"{sum(part.fit for part in item.parts)} of {len(item.parts)}"),
                html.Td(_open_parts(item)),
            ]
        )
        for item in builds
    ]
    return html.Table([html.Thead(head), html.Tbody(rows)], className="plain")


def _open_parts(build: JudgedBuild) -> list[Component]:
    by_verdict: dict[str, list[JudgedPart]] = {verdict: [] for verdict in WORST_FIRST}
    for part in build.parts:
        if not part.fit:
            by_verdict[part.verdict].append(part)
    if build.fit:
        return [html.Span("nothing: fit in every part")]
    return [
        html.Div(marked(parts[0].verdict, f"{verdict}: {_names(parts)}"))
        for verdict, parts in by_verdict.items()
        if parts
    ]


def _names(parts: Sequence[JudgedPart]) -> str:
    return listed([plain(part.part) for part in parts], most=6)


def part_titles(shop: Shop, model: str) -> dict[str, str]:
    """Parts of a model by name with their titles, the newest revision of the plan last and so in force."""
    return {name: part.title for plan in shop.plans.get(model, ()) for name, part in plan.parts.items()}


def register(app: Dash, desk: Desk) -> None:
    """Choosing a model moves to its address."""

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("builds-model", "value"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose(model: str | None, search: str) -> object:
        return no_update if not model else moved({"model": None if model == ALL else model}, search)


PAGE = Page("builds", "/", "Builds", content, label="Builds", register=register)
