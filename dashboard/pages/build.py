"""One build: every characteristic of every part, with what was read, what is asked, and the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING
from urllib.parse import unquote

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import bench_at, drift_of, glueup_at
from dashboard.aria import aria
from dashboard.desk import Desk
from dashboard.marks import MARKS, marked
from dashboard.page import Page, Query
from dashboard.views.record import record, record_table
from dashboard.views.sheet import part_titles
from dashboard.words import amount, counted, fine, limits, plain, signed, spoken
from qa.bench.speech import say_held, say_off
from qa.errors import ShopError
from qa.judge import Judged, JudgedBuild, JudgedPart
from qa.plans.plan import unknown

if TYPE_CHECKING:
    from qa.chronicle import Entry
    from qa.shop import Shop


def content(desk: Desk, query: Query) -> Component:
    """Every part of the build named in the address; ShopError where it is not known."""
    from qa.store.newest import newest

    name = unquote(query.get("build", ""))
    shop, store = desk.shop(query.get("unit")), desk.store()
    if store.build(name) is None:
        raise ShopError(unknown("build", name, newest(store)))
    found = desk.verdicts([name])
    for _, why in found.problems:
        raise ShopError(f"{name} cannot be judged: {why}")
    (build,) = found.builds
    titles = part_titles(shop, build.model)
    entries = _entries(desk, shop, name)
    whole = [item for item in entries if item.part not in {part.part for part in build.parts}]
    return html.Div(
        [
            html.H1(["Build ", build.build]),
            html.P(_in_short(shop, build), className="lead"),
            html.P([dcc.Link("Every gate of this build", href=glueup_at(name))], className="ways"),
            html.Nav(
                html.Ul([_entry(part, titles.get(part.part, plain(part.part))) for part in build.parts]),
                className="parts-list",
                **aria(label="Parts of this build"),
            ),
            *(
                _part(shop, name, part, titles.get(part.part, plain(part.part)), _of(entries, part.part))
                for part in build.parts
            ),
            *_of_the_whole(whole, shop),
        ]
    )


def _entries(desk: Desk, shop: Shop, build: str) -> list[Entry]:
    from qa.calipers.in_shop import instruments_of
    from qa.checking import plan_of
    from qa.chronicle import chronicle
    from qa.plans.revisions import Revisions

    store = desk.store()
    rows, events = store.readings(build), store.events(build=build)
    plan, revisions = plan_of(shop, store, build), Revisions.kept(store.plan_text)
    return chronicle(rows, events, plan, instruments_of(shop, store), shop.unit, revisions)


def _of(entries: Sequence[Entry], part: str) -> list[Entry]:
    return [item for item in entries if item.part == part]


def _of_the_whole(entries: Sequence[Entry], shop: Shop) -> list[Component]:
    """What was kept of the build as a whole, or of parts that its plan no longer has."""
    if not entries:
        return []
    return [html.H2("Of the whole build"), record_table(entries, shop, "Record of the whole build")]


def _in_short(shop: Shop, build: JudgedBuild) -> str:
    fit = sum(part.fit for part in build.parts)
    plan = shop.revision(build.plan)
    judged_by = f"judged by the plan {plan.name}" if plan else "judged by a plan since removed"
    return f"{plain(build.model)}, {fit} of {counted(len(build.parts), 'part', 'parts')} fit, {judged_by}."


def _entry(part: JudgedPart, title: str) -> html.Li:
    return html.Li(html.A(marked(part.verdict, f"{title}: {part.verdict}"), href=f"#{part.part}"))


def _part(shop: Shop, build: str, part: JudgedPart, title: str, entries: Sequence[Entry]) -> html.Section:
    heading = html.H2([title, " ", marked(part.verdict)], id=part.part, tabIndex=-1)
    head = html.Tr(
        [
            html.Th("Station", scope="col"),
            html.Th("Read", scope="col", className="number"),
            html.Th("From target", scope="col", className="number"),
            html.Th("Within its limits", scope="col", className="scale-column"),
            html.Th("Standard uncertainty", scope="col", className="number wide-only"),
            html.Th("Verdict", scope="col"),
        ]
    )
    groups = [
        html.Tbody([_group_head(shop, part.part, items[0]), *(_line(shop, item) for item in items)])
        for items in (list(run) for _, run in groupby(part.characteristics, lambda item: item.characteristic))
    ]
    ways = html.P(
        [
            *(dcc.Link("Bench", href=bench_at(build, part.part)), " "),
            dcc.Link("Glue-up", href=glueup_at(build, part.part)),
        ],
        className="ways",
        **aria(label=f"{title}: read it, glue it"),
    )
    table = html.Table([html.Thead(head), *groups], className="characteristics")
    names = {name for row in part.held for name in (row.characteristic, row.station)}
    held = [html.P(spoken(say_held(row, shop.unit), names), className="remark") for row in part.held]
    return html.Section([heading, ways, table, *held, record(entries, shop, f"Record of {title}")])


def _group_head(shop: Shop, part: str, judged: Judged) -> html.Tr:
    target = "" if judged.target is None else f"target {amount(judged.target, judged.unit, shop.unit)}, "
    return html.Tr(
        html.Th(
            [
                html.Strong(plain(judged.characteristic)),
                html.Span(f" {target}{limits(judged, shop.unit)} ", className="asked"),
                dcc.Link(
                    "drift",
                    href=drift_of(part, judged.characteristic, judged.station or ""),
                    className="aside",
                ),
            ],
            colSpan=6,
            scope="rowgroup",
        ),
        className="group",
    )


def _line(shop: Shop, judged: Judged) -> html.Tr:
    places = fine(judged.unit, shop.unit)
    uncertainty = amount(judged.standard_uncertainty, judged.unit, shop.unit, places)
    return html.Tr(
        [
            html.Th(plain(judged.station or "") or "whole part", scope="row"),
            html.Td(amount(judged.value, judged.unit, shop.unit), className="number"),
            html.Td(signed(judged.deviation, judged.unit, shop.unit), className="number"),
            html.Td(_scale(judged), className="scale-column"),
            html.Td(uncertainty, className="number wide-only"),
            html.Td([marked(judged.verdict), *_remarks(shop, judged)]),
        ]
    )


def _remarks(shop: Shop, judged: Judged) -> list[Component]:
    """What a reader of a verdict should know: why it cannot be told, and what leaves it in doubt."""
    told = [judged.why] if judged.why else []
    if judged.in_doubt:
        told.append(say_off(judged, shop.unit))
    return [html.Div(text, className="remark") for text in told]


def _scale(judged: Judged) -> Component | None:
    """A short rule with the limits marked on it and a stroke where the value lies: a picture of the row."""
    if judged.value is None or judged.lower is None or judged.upper is None or judged.lower >= judged.upper:
        return None
    share = (judged.value - judged.lower) / (judged.upper - judged.lower)
    place = f"{100 * min(max(0.2 + 0.6 * share, 0.0), 1.0):.1f}%"
    return html.Div(
        html.Span(className=f"stroke {MARKS[judged.verdict].name}", style={"left": place}),
        className="scale",
        **aria(hidden="true"),
    )


PAGE = Page("build", "/build/<build>", "Build", content)
