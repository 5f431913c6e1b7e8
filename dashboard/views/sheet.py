"""Builds side by side: a table of marks for each model, and the same in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import build_at, drift_of
from dashboard.aria import aria
from dashboard.marks import mark, marked
from dashboard.views.still import still
from dashboard.words import listed, plain
from qa.judge import WORST_FIRST, JudgedBuild, JudgedPart

if TYPE_CHECKING:
    from qa.shop import Shop
    from qa.store.store import Build


def marks_sheet(shop: Shop, model: str, builds: Iterable[JudgedBuild]) -> Component:
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
    table = html.Table(
        [
            html.Caption([html.Span("Model ", className="quiet"), plain(model)]),
            html.Thead(head),
            html.Tbody([_row(item, parts, titles) for item in of_model]),
        ],
        className="marks-sheet",
    )
    label = aria(label=f"Verdicts on {plain(model)}")
    return still(table, className="scroll", role="region", tabIndex=0, **label)


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


def word_table(builds: Sequence[JudgedBuild], begun: Mapping[str, Build]) -> html.Div:
    """Each build with the day it was begun, how many of its parts fit, and what stands open."""
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
    return still(html.Table([html.Thead(head), html.Tbody(rows)], className="plain"))


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
