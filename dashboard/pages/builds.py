"""Builds: every part of some builds at a glance, the newest first, and the same in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qsl

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.addresses import builds_at
from dashboard.aria import aria
from dashboard.desk import Desk
from dashboard.marks import legend
from dashboard.notices import nothing_yet, refused
from dashboard.page import Page, Query
from dashboard.pages.drift_kept import stand
from dashboard.shell import ADDRESS, HERE, POSITION, moved, mover
from dashboard.views.sheet import marks_sheet, word_table
from dashboard.views.window import Window, beginning, window
from dashboard.words import counted, listed, unbroken
from qa.errors import QaError
from qa.judge import WORST_FIRST, JudgedBuild

if TYPE_CHECKING:
    from qa.shop import Shop

ALL = "every model"
ANY_BENCH = "every bench"
ANY_VERDICT, FIT, OPEN = "every verdict", "fit in every part", "something stands open"
CHOSEN = ("model", "verdict", "bench", "text")
FROM = "from"
"""What the address names the build by that the page begins with."""


def content(desk: Desk, query: Query) -> Component:
    """The builds that the address asks for, so many at a time."""
    asked = {"query": dict(query), "stand": stand(desk)}
    choices, body = _drawn(desk, query)
    return html.Div(
        [
            dcc.Store(id="builds-asked", data=asked),
            html.H1("Builds"),
            html.Div(choices, id="builds-choices"),
            html.Div(body, id="builds-body"),
        ]
    )


def _drawn(desk: Desk, query: Query) -> tuple[list[Component], list[Component]]:
    """What may be chosen, and the builds; or what stands in their way."""
    from qa.store.newest import how_many_builds, models_begun

    try:
        store = desk.store()
        every = how_many_builds(store)
        if not every:
            return [], [nothing_yet(desk.shop().name)]
        return [_filter(models_begun(store), desk.benches(), query)], _body(desk, query, every)
    except QaError as error:
        return [], [refused(error)]


def _body(desk: Desk, query: Query, every: int) -> list[Component]:
    from qa.store.newest import how_many_builds, newest

    model, verdict, bench, text = (query.get(name, "") for name in CHOSEN)
    store, asked = desk.store(), (model, bench, text.strip())
    start, wanted = query.get(FROM, ""), _wanted(verdict)
    names = beginning(lambda most: newest(store, *asked, most), start, wanted)
    seen = window(names, start, desk.verdicts, wanted)
    if not names or not (seen.shown or seen.problems or seen.newer or seen.older):
        see_all = dcc.Link("See all builds", href=builds_at())
        return [html.P(["No build is like that. ", see_all], className="notice lead")]
    found = how_many_builds(store, *asked) if any(asked) else every
    return [
        html.P(_in_short(names, found, every, seen, verdict), className="lead"),
        *_ways(query, seen, "Newer and older builds"),
        *_problems(seen.problems),
        *(_sheets(desk.shop(), desk, seen.shown) if seen.shown else []),
        *_ways(query, seen, "Newer and older builds, at the end"),
    ]


def _sheets(shop: Shop, desk: Desk, builds: Sequence[JudgedBuild]) -> list[Component]:
    models = sorted({item.model for item in builds})
    begun = desk.store().builds([item.build for item in builds])
    return [
        legend(),
        *(marks_sheet(shop, model, builds) for model in models),
        html.H2("In words", id="in-words", tabIndex=-1),
        word_table(builds, begun),
    ]


def _wanted(verdict: str) -> Any:
    """Whether a build is one with that verdict; None where any is."""
    if not verdict:
        return None
    if verdict in (FIT, OPEN):
        return lambda build: build.fit == (verdict == FIT)
    return lambda build: verdict in {str(part.verdict) for part in build.parts}


def _in_short(names: Sequence[str], found: int, every: int, seen: Window, verdict: str) -> str:
    """How many builds there are, which of them these are, and how many fit."""
    shown = len(seen.shown)
    total = counted(every, "build", "builds")
    total = total if found == every else f"{found} of {total} asked for"
    told = f"{sum(item.fit for item in seen.shown) or 'none'} fit in every part"
    if verdict:
        told = f"{shown or 'none'} with that verdict"
    if seen.first == 0 and seen.end == found:
        return f"{total}, {told}."
    span = unbroken(f"{names[seen.first]} to {names[seen.end - 1]}")
    looked = "Looked at" if verdict else "Here are"
    return f"{total}. {looked} {seen.first + 1} to {seen.end} from the newest, {span}: {told}."


def _problems(problems: Sequence[tuple[str, str]]) -> list[Component]:
    """Builds that cannot be judged, those for the same reason together."""
    named: dict[str, list[str]] = {}
    for name, why in problems:
        named.setdefault(why, []).append(name)
    return [
        html.P(f"{listed(names, most=12)} cannot be judged: {why}", role="alert")
        for why, names in named.items()
    ]


def _ways(query: Query, seen: Window, label: str) -> list[Component]:
    """On to newer and to older builds; nothing where all are here."""
    chosen = {name: query.get(name, "") for name in CHOSEN}

    def to(words: str, start: str | None) -> Component:
        if start is None:
            return html.Span(words, className="quiet")
        return dcc.Link(words, href=builds_at(**chosen, **{FROM: start}))

    if not (seen.newer or seen.older):
        return []
    newest = None if seen.first == 0 else ""
    ways = [to("Newest", newest), to("Newer builds", seen.newer), to("Older builds", seen.older)]
    return [html.Nav(ways, className="pager", **aria(label=label))]


def _filter(models: Sequence[str], benches: Sequence[str], query: Query) -> Component:
    """What is chosen of the builds; only what there is more than one of."""
    model, verdict, bench, text = (query.get(name, "") for name in CHOSEN)
    verdicts = [ANY_VERDICT, FIT, OPEN, *map(str, WORST_FIRST)]
    return html.Div(
        [
            dmc.TextInput(
                id="builds-text", label="Name of a build, or a piece of it", value=text, debounce=True
            ),
            _choice("builds-model", "Model", [ALL, *models], model, shown=len(models) > 1 or bool(model)),
            _choice("builds-verdict", "Verdict", verdicts, verdict),
            _choice(
                "builds-bench",
                "Read at",
                [ANY_BENCH, *benches],
                bench,
                shown=len(benches) > 1 or bool(bench),
            ),
            mover(),
        ],
        className="choice",
        role="group",
        **aria(label="Which builds"),
    )


def _choice(name: str, label: str, options: list[str], value: str, shown: bool = True) -> Component:
    """A choice whose first option stands for all; where it is not shown, only its value."""
    chosen = value or options[0]
    if not shown:  # a choice nobody sees costs the browser as much as one that is seen
        return dmc.TextInput(id=name, value=chosen, style={"display": "none"})
    return dmc.Select(id=name, label=label, data=options, value=chosen, allowDeselect=False)


def register(app: Dash, desk: Desk) -> None:
    """Choosing moves to the address of what was chosen; the builds follow what is stored."""

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("builds-model", "value"),
        Input("builds-verdict", "value"),
        Input("builds-bench", "value"),
        Input("builds-text", "value"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose(
        model: str | None, verdict: str | None, bench: str | None, text: str | None, search: str
    ) -> object:
        if not (model and verdict and bench):
            return no_update
        chosen = {
            "model": None if model == ALL else model,
            "verdict": None if verdict == ANY_VERDICT else verdict,
            "bench": None if bench == ANY_BENCH else bench,
            "text": (text or "").strip() or None,
        }
        asked = dict(parse_qsl((search or "").lstrip("?")))
        if all(asked.get(name) == value for name, value in chosen.items()):
            return no_update  # drawn anew, or turned over; the build the page begins with stays
        return moved(chosen, search)

    @app.callback(
        Output("builds-choices", "children"),
        Output("builds-body", "children"),
        Output("builds-asked", "data"),
        Input(POSITION, "data"),
        State("builds-asked", "data"),
        State("builds-choices", "children"),
        prevent_initial_call=True,
    )
    def follow(position: dict[str, object] | None, asked: dict[str, Any] | None, shown: Any) -> Any:
        now = stand(desk)
        if not position or not asked or now == asked["stand"]:
            return no_update, no_update, no_update
        choices, body = _drawn(desk, asked["query"])
        keep = bool(choices) and bool(shown)  # a word half typed stays
        return no_update if keep else choices, body, asked | {"stand": now}


PAGE = Page("builds", "/", "Builds", content, label="Builds", live=False, register=register)
