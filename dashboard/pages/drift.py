"""Drift: what moved across the builds and why; the whole shop, or one series in depth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.aria import aria
from dashboard.desk import Desk
from dashboard.forms import button
from dashboard.notices import nothing_yet, refused
from dashboard.page import Page, Query
from dashboard.pages.drift_fix import fix_form, register_fix
from dashboard.pages.drift_kept import is_ready, rest_s, shop_report, stand
from dashboard.pages.drift_overview import overview
from dashboard.pages.drift_series import in_depth
from dashboard.shell import ADDRESS, HERE, POSITION, UNIT, moved, mover
from dashboard.views.series import GROUPS
from dashboard.words import counted, plain
from qa.errors import QaError

if TYPE_CHECKING:
    from qa.drift.report import DriftReport
    from qa.plans.plan import Part
    from qa.shop import Shop

BY_VERDICT = "verdict"
WHOLE = "whole part"
AT_ONCE_S = 1.0
"""Charts that ask for a shorter rest than this follow every reading at once."""
PATIENCE_S = 1.5
"""How long a page waits for its report before it says that it is being worked out."""


def content(desk: Desk, query: Query) -> Component:
    """The whole shop, or the series the address asks for; ShopError if not known.

    Where that takes long, a page that says so, to be replaced by a callback once it is worked out.
    """
    shop = desk.shop(query.get("unit"))
    if not desk.store().last_sequence():
        waiting = html.Div(nothing_yet(shop.name), id="drift-body", className="series")
        return html.Div([html.H1("Drift"), *_follower(desk, query, 0), waiting])
    if is_ready(desk, PATIENCE_S):
        return html.Div(_drawn(desk, query), id="drift-page")
    said = "Charting the builds and comparing what may have moved them …"
    told = html.P(said, className="lead loading", role="status")
    return html.Div(
        [html.H1("Drift"), told, dcc.Store(id="drift-waiting", data=dict(query))], id="drift-page"
    )


def _drawn(desk: Desk, query: Query) -> list[Component | None]:
    shop, found = desk.shop(query.get("unit")), shop_report(desk)
    part, characteristic, view = asked_of(shop, found, query)
    head = _heading(shop, found, part, characteristic, view, query) if part else [html.H1("Drift")]
    return [
        *head,
        *_follower(desk, query, rest_s(desk)),
        html.Div(_body(desk, found, query), id="drift-body", className="series"),
        fix_form(part, characteristic),
    ]


def _follower(desk: Desk, query: Query, rest: float) -> list[Component]:
    """What the page was drawn from, and where it says what has come since."""
    drawn = {"query": dict(query), **_drawn_from(desk, rest)}
    return [
        dcc.Store(id="drift-asked", data=drawn),
        dcc.Store(id="drift-rested"),
        html.Div(
            [html.Span(id="drift-news"), button("drift-now", "Show them now", quiet=True)],
            id="drift-since",
            className="since",
            hidden=True,
        ),
    ]


def _drawn_from(desk: Desk, rest: float) -> dict[str, Any]:
    return {"stand": stand(desk), "last": desk.store().last_sequence(), "rest": rest}


def asked_of(shop: Shop, found: DriftReport, query: Query) -> tuple[str, str, str]:
    """Part, characteristic and view that an address asks for, completed by the first; all "" for the shop."""
    from qa.drift.look import parts_of, views

    part, characteristic = query.get("part", ""), query.get("characteristic", "")
    if not part:
        return "", "", ""
    parts = parts_of(shop)
    if not characteristic and part in parts:
        characteristic = next(iter(parts[part].characteristics))
    known = views(found, shop, part, characteristic)
    return part, characteristic, query.get("station") or known[0]


def _body(desk: Desk, found: DriftReport, query: Query) -> Sequence[Component | None]:
    """What follows the store by itself: all but what a person chooses or types."""
    from qa.drift.look import look

    shop = desk.shop(query.get("unit"))
    part, characteristic, view = asked_of(shop, found, query)
    if not part:
        return overview(shop, found) if any(one.track.made for one in found.series) else _unread("")
    seen = look(shop, desk.store(), found, part, characteristic, view)
    if seen is None:
        return _unread(plain(f"{part} {characteristic} {view}".strip()))
    by = query.get("marks", "")
    every = query.get("builds") == "all"
    return in_depth(desk, shop, found, seen, by if by in GROUPS else "", every)


def _unread(where: str) -> list[Component]:
    of = f" of {where}" if where else ""
    return [
        html.P(f"No build has a reading{of} yet.", className="notice"),
        html.P("A chart begins at the third build.", className="aside"),
    ]


def _heading(
    shop: Shop, found: DriftReport, part: str, characteristic: str, view: str, query: Query
) -> list[Component | None]:
    from qa.drift.look import parts_of, views

    parts = parts_of(shop)
    known = views(found, shop, part, characteristic)
    words = (parts[part].title, plain(characteristic), plain(view))
    return [
        html.P(dcc.Link("All series of the shop", href="/drift"), className="where above"),
        html.H1(", ".join(word for word in words if word), id="series-name"),
        _choice(parts, part, characteristic, known, view, query.get("marks") or BY_VERDICT),
    ]


def _choice(
    parts: Mapping[str, Part], part: str, characteristic: str, views: Sequence[str], view: str, marks: str
) -> html.Div:
    named = {name: plain(name) for name in [*parts[part].characteristics, characteristic]}
    series = {name or WHOLE: plain(name) or WHOLE for name in views}
    by = {BY_VERDICT: "verdict"} | {name: name for name in GROUPS}
    return html.Div(
        [
            _select("drift-part", "Part", {name: item.title for name, item in parts.items()}, part),
            _select("drift-characteristic", "Characteristic", named, characteristic),
            _select("drift-station", "Series", series, view or WHOLE),
            _select("drift-marks", "Points by", by, marks if marks in by else BY_VERDICT),
            mover(),
        ],
        className="choice",
        role="group",
        **aria(label="Series"),
    )


def _select(name: str, label: str, options: Mapping[str, str], value: str) -> dmc.Select:
    return dmc.Select(
        id=name,
        label=label,
        data=[{"value": key, "label": text} for key, text in options.items()],
        value=value if value in options else None,
        allowDeselect=False,
        disabled=len(options) < 2,
        maxDropdownHeight=400,
    )


def register(app: Dash, desk: Desk) -> None:
    """Choosing moves to the address of what was chosen; what is drawn follows the store; fixes are kept."""
    register_fix(app, desk)
    _register_choice(app)

    @app.callback(Output("drift-page", "children"), Input("drift-waiting", "data"))
    def arrive(query: dict[str, str] | None) -> Any:
        if query is None:
            return no_update
        try:
            return _drawn(desk, query)
        except QaError as error:
            return [html.H1("Drift"), refused(error)]

    app.clientside_callback(
        ClientsideFunction("drift", "rested"),
        Output("drift-rested", "data"),
        Input("second", "n_intervals"),
        Input(POSITION, "data"),
        State("drift-asked", "data"),
    )

    @app.callback(
        Output("drift-body", "children"),
        Output("drift-asked", "data"),
        Output("drift-news", "children"),
        Output("drift-since", "hidden"),
        Input(POSITION, "data"),
        Input("drift-rested", "data"),
        Input("drift-now", "n_clicks"),
        State("drift-asked", "data"),
        State(UNIT, "data"),
        prevent_initial_call=True,
    )
    def follow(
        position: object, rested: object, clicks: object, asked: dict[str, Any] | None, unit: str | None
    ) -> Any:
        if not position or not asked or stand(desk) == asked["stand"]:
            return [no_update] * 4
        only_news = set(ctx.triggered_prop_ids.values()) == {POSITION}  # a rest may end at that very moment
        waiting = only_news and asked["rest"] >= AT_ONCE_S
        now: dict[str, Any] = {"stand": stand(desk)}
        try:
            come = desk.store().last_sequence() - asked["last"]
            if waiting and come:
                return no_update, no_update, _since(come, asked["rest"]), False
            now = _drawn_from(desk, asked["rest"])
            body = _body(desk, shop_report(desk), asked["query"] | {"unit": unit or ""})
            now["rest"] = rest_s(desk)
        except QaError as error:
            body = [refused(error)]
        return body, asked | now, "", True


def _since(come: int, rest: float) -> str:
    """What has come since the page was drawn, and when it will be in it."""
    return (
        f"{counted(come, 'reading has', 'readings have')} come since; the charts take them in "
        f"when none has come for {max(round(rest), 1)} s."
    )


def _register_choice(app: Dash) -> None:
    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("drift-part", "value"),
        Input("drift-characteristic", "value"),
        Input("drift-station", "value"),
        Input("drift-marks", "value"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose(
        part: str | None, characteristic: str | None, station: str | None, marks: str | None, search: str
    ) -> object:
        chosen = {"part": part}
        if ctx.triggered_id != "drift-part":
            chosen["characteristic"] = characteristic
            if ctx.triggered_id != "drift-characteristic":
                chosen["station"] = None if station == WHOLE else station
        chosen["marks"] = None if marks == BY_VERDICT else marks
        return moved(chosen, search)


PAGE = Page("drift", "/drift", "Drift", content, label="Drift", live=False, register=register)
