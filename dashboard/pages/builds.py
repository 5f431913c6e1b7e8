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
    from qa.store.store import Build

ALL = "every model"
ANY_VERDICT, FIT = "every verdict", "fit in every part"
ANY_BENCH = "every bench"


def content(desk: Desk, query: Query) -> Component:
    """The verdicts on the builds that the address asks for, the newest first; else on every build."""
    from qa.bench.benches import benches_of

    shop, found = desk.shop(), desk.verdicts()
    if not found.builds and not found.problems:
        return html.Div([html.H1("Builds"), nothing_yet(shop.name)])
    benches = benches_of(desk.store())
    wanted = query.get("model", "")
    builds = [item for item in reversed(found.builds) if _is_asked_for(item, query, benches)]
    models = list(dict.fromkeys(item.model for item in found.builds))
    if not builds and found.builds:
        return html.Div([html.H1("Builds"), _filter(models, benches, query), _none_such()])
    return html.Div(
        [
            html.H1("Builds"),
            html.P(_in_short(builds), className="lead"),
            _filter(models, benches, query),
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


def _is_asked_for(build: JudgedBuild, query: Query, benches: Mapping[str, Sequence[str]]) -> bool:
    model, verdict, bench = (query.get(name, "") for name in ("model", "verdict", "bench"))
    judged = {part.verdict for part in build.parts}
    return (
        model in ("", build.model)
        and (not verdict or verdict in judged or (verdict == FIT and build.fit))
        and (not bench or bench in benches.get(build.build, ()))
    )


def _none_such() -> Component:
    return html.P(["No build is like that. ", dcc.Link("See all builds", href="/")], className="notice lead")


def _filter(models: Sequence[str], benches: Mapping[str, Sequence[str]], query: Query) -> Component:
    """What is chosen of the builds; only what there is more than one of."""
    named = sorted({bench for names in benches.values() for bench in names})
    asked = query.get("model", ""), query.get("verdict", ""), query.get("bench", "")
    model, verdict, bench = asked
    return html.Div(
        [
            _choice("builds-model", "Model", [ALL, *models], model, shown=len(models) > 1 or bool(model)),
            _choice("builds-verdict", "Verdict", [ANY_VERDICT, FIT, *map(str, WORST_FIRST)], verdict),
            _choice(
                "builds-bench", "Read at", [ANY_BENCH, *named], bench, shown=len(named) > 1 or bool(bench)
            ),
        ],
        className="choice",
        role="group",
        **aria(label="Which builds"),
    )


def _choice(name: str, label: str, options: list[str], value: str, shown: bool = True) -> dmc.Select:
    """A choice whose first option stands for all."""
    style = {} if shown else {"display": "none"}
    return dmc.Select(
        id=name, label=label, data=options, value=value or options[0], allowDeselect=False, style=style
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
    """Choosing moves to the address of what was chosen."""

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("builds-model", "value"),
        Input("builds-verdict", "value"),
        Input("builds-bench", "value"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose(model: str | None, verdict: str | None, bench: str | None, search: str) -> object:
        if not (model and verdict and bench):
            return no_update
        chosen = {
            "model": None if model == ALL else model,
            "verdict": None if verdict == ANY_VERDICT else verdict,
            "bench": None if bench == ANY_BENCH else bench,
        }
        return moved(chosen, search)


PAGE = Page("builds", "/", "Builds", content, label="Builds", register=register)
