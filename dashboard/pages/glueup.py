"""Glue-up: the gate of every part of a build, and of one part with all that speaks for and against."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.addresses import bench_at, build_at, decide_at, glueup_at
from dashboard.aria import aria
from dashboard.desk import Desk
from dashboard.forms import answers, as_number, button, choice, done, field, number, refusal, row
from dashboard.notices import nothing_yet, refused
from dashboard.page import Page, Query
from dashboard.shell import ADDRESS, HERE, POSITION, UNIT, moved, mover
from dashboard.views import gate as view
from dashboard.views.still import still
from dashboard.words import counted
from qa.errors import QaError, ShopError
from qa.plans.plan import unknown

if TYPE_CHECKING:
    from qa.gate.gate import Gate
    from qa.plans.plan import Part, Plan
    from qa.shop import Shop
    from qa.store.store import Store

OFFERED = 60
"""Builds to choose from at once."""
WORDS = {"glue": "Glue", "measure": "Measure", "work": "Work", "wait": "Wait", "stop": "Stop"}


def content(desk: Desk, query: Query) -> Component:
    """The gate of the build the address names, the newest where it names none; ShopError if not known."""
    asked = _asked(desk, query)
    return html.Div(
        [
            dcc.Store(id="glueup-asked", data={"query": asked, "position": desk.position()}),
            html.Div(_body(desk, asked), id="glueup-body"),
            _air_form(),
        ]
    )


def _asked(desk: Desk, query: Query) -> dict[str, str]:
    """What the address asks for, with the newest build where it names none; "" where there is none yet."""
    from qa.store.newest import newest

    store = desk.store()
    build = query.get("build") or next(iter(newest(store, most=1)), "")
    if build and store.build(build) is None:
        raise ShopError(unknown("build", build, newest(store)))
    return dict(query) | {"build": build}


def _body(desk: Desk, query: Query) -> list[Component | None]:
    if not query["build"]:
        return [html.H1("Glue-up"), nothing_yet(desk.shop().name)]
    part = query.get("part")
    return _part(desk, query, part) if part else _parts(desk, query)


def _parts(desk: Desk, query: Query) -> list[Component | None]:
    """Every part of the build, those first that stand in the plan first."""
    from qa.gate.gluing import look_all

    shop, store, build = desk.shop(query.get("unit")), desk.store(), query["build"]
    plan = _plan(desk, shop, build)
    gates = look_all(shop, store, build)
    is_open = sum(gate.open for gate, _ in gates)
    return [
        html.H1(["Glue-up of ", build]),
        html.Div([_choice(store, build), mover()], className="choice"),
        view.room(gates[0][0].climate, plan.reference.glue_rh_percent, shop.zone()),
        html.P(
            f"{is_open} of {counted(len(gates), 'gate', 'gates')} {'is' if is_open == 1 else 'are'} open. "
            "A closed gate says why, and what comes next.",
            className="aside",
        ),
        still(html.Ol([_entry(build, gate, part) for gate, part in gates], className="gates")),
    ]


def _choice(store: Store, build: str) -> dmc.Select:
    """The newest builds; typing finds older ones."""
    return choice(
        "glueup-build",
        "Build",
        _offered(store, build),
        build,
        searchable=True,
        nothingFoundMessage="No build has that in its name.",
    )


def _offered(store: Store, build: str, text: str = "") -> dict[str, str]:
    from qa.store.newest import newest

    return {name: name for name in dict.fromkeys([*newest(store, text=text, most=OFFERED), build])}


def _plan(desk: Desk, shop: Shop, build: str) -> Plan:
    from qa.checking import plan_of

    return plan_of(shop, desk.store(), build)


def _entry(build: str, gate: Gate, part: Part) -> html.Li:
    return html.Li(
        [
            html.Div(
                [
                    html.H2(
                        dcc.Link(part.title, href=glueup_at(build, part.name)), id=part.name, tabIndex=-1
                    ),
                    view.gate_word(gate),
                ],
                className="gate-name",
            ),
            html.P([html.Span("next: ", className="heard"), WORDS[gate.next]], className="gate-next"),
            view.reasons(gate, part, view.SHOWN),
        ],
        className="open" if gate.open else "closed",
    )


def _part(desk: Desk, query: Query, name: str) -> list[Component | None]:
    from qa.gate.gluing import after_clamp, look

    shop, store, build = desk.shop(query.get("unit")), desk.store(), query["build"]
    gate, part = look(shop, store, build, name)
    plan, zone = _plan(desk, shop, build), shop.zone()
    changes = after_clamp(shop, store, build, part)
    events = [e for e in store.events(build=build, part=name) if e.kind in ("glue-up", "override")]
    return [
        html.H1(part.title),
        html.P(
            ["of build ", dcc.Link(build, href=build_at(build))],
            className="lead where",
        ),
        html.P(
            [
                dcc.Link("All its gates", href=glueup_at(build)),
                dcc.Link("Read it at the bench", href=bench_at(build, name)),
            ],
            className="ways",
        ),
        html.Section(
            [
                html.P(view.gate_word(gate), className="gate-state"),
                html.P(["Next: ", html.Strong(WORDS[gate.next].lower())], className="gate-next"),
                html.Blockquote(gate.override) if gate.overridden else None,
                view.reasons(gate, part),
                view.notes(gate, part, "Note it below."),
                _way_on(build, gate, glued=any(item.kind == "glue-up" for item in events)),
            ],
            className=f"gate {'open' if gate.open else 'closed'}",
            **aria(label="The gate"),
        ),
        view.room(gate.climate, plan.reference.glue_rh_percent, zone),
        *_moves(gate, part, shop, plan),
        *([html.H2("What clamping moved"), view.clamped(changes, part, shop)] if changes else []),
        *([html.H2("Kept for ever"), view.kept(events, part, zone)] if events else []),
        _paper(),
    ]  # fmt: skip


def _way_on(build: str, gate: Gate, glued: bool) -> Component:
    if gate.open:
        words, way = "Decide to glue it again" if glued else "Decide to glue it", ""
    else:
        words, way = "Glue it all the same, with a reason", "override"
    kind = "do" if gate.open and not glued else "do quiet-do"
    return html.P(dcc.Link(words, href=decide_at(build, gate.part, way), className=kind), className="way-on")


def _moves(gate: Gate, part: Part, shop: Shop, plan: Plan) -> list[Component | None]:
    if not gate.moved:
        return []
    return [
        html.H2("How the wood will move"),
        html.P(
            f"The plan's sizes hold at {plan.reference.rh_percent:g} % RH and {plan.reference.temp_c:g} °C."
        ),
        view.movement(gate.moved, shop),
        view.untold(gate, part),
    ]


def _paper() -> html.Div:
    """Lines for the pencil, on paper only."""
    names = ("Glue", "Batch, or day it was opened", "Room, % RH and °C", "Open minutes", "Clamps",
             "Clamps off at", "Squeeze-out seen all along", "By")  # fmt: skip
    return html.Div(
        [
            html.H2("At the glue-up"),
            html.P(view.CAUTION),
            html.Dl([html.Div([html.Dt(name), html.Dd()]) for name in names], className="pencil-lines"),
        ],
        className="paper-only",
        **aria(hidden="true"),
    )


def _air_form() -> Component:
    return html.Details(
        [
            html.Summary("Note the room's air"),
            html.Div(
                [
                    row(
                        [
                            number("air-rh", "Relative humidity, %"),
                            number("air-temp", "Temperature, °C"),
                            field("air-by", "Read by"),
                        ],
                        "The room's air",
                    ),
                    button("air-keep", "Keep it"),
                ],
                className="form",
            ),
            answers("air-told"),
        ],
        className="more air",
    )


def register(app: Dash, desk: Desk) -> None:
    """The gate follows the store; choosing a build moves to its address; the room's air is kept."""

    @app.callback(
        Output("glueup-body", "children"),
        Output("glueup-asked", "data"),
        Input(POSITION, "data"),
        State("glueup-asked", "data"),
        State(UNIT, "data"),
        prevent_initial_call=True,
    )
    def follow(position: dict[str, object] | None, asked: dict[str, Any] | None, unit: str | None) -> Any:
        if not position or not asked or position == asked["position"]:
            return no_update, no_update
        try:
            query = _asked(desk, asked["query"] | {"unit": unit or ""})
            return _body(desk, query), {"query": query, "position": position}
        except QaError as error:
            return [html.H1("Glue-up"), refused(error)], asked | {"position": position}

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("glueup-build", "value"),
        State("glueup-asked", "data"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose(build: str | None, asked: dict[str, Any], search: str) -> object:
        return no_update if not build or build == asked["query"]["build"] else moved({"build": build}, search)

    @app.callback(
        Output("glueup-build", "data"),
        Input("glueup-build", "searchValue"),
        State("glueup-build", "value"),
        prevent_initial_call=True,
    )
    def offer(text: str | None, build: str | None) -> object:
        asked = "" if not text or text == build else text
        return list(_offered(desk.store(), build or "", asked)) if build else no_update

    @app.callback(
        Output("air-told", "children"),
        Output("air-rh", "value"),
        Output("air-temp", "value"),
        Input("air-keep", "n_clicks"),
        State("air-rh", "value"),
        State("air-temp", "value"),
        State("air-by", "value"),
        running=[(Output("air-keep", "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def keep_air(clicks: int | None, rh: str | None, temp: str | None, by: str | None) -> Any:
        from qa.calipers.climate import keep_climate

        if not clicks:
            return no_update, no_update, no_update
        try:
            humidity, warmth = as_number(rh, "Relative humidity"), as_number(temp, "Temperature")
            if humidity is None:
                raise ShopError("Give the relative humidity that the hygrometer shows.")
            kept = keep_climate(desk.store(), rh=humidity, temp=warmth, by=(by or "").strip())
        except QaError as error:
            return refusal(error), no_update, no_update
        return done(f"Kept: {kept['rh_percent']:g} % RH."), "", ""


PAGE = Page("glueup", "/glueup", "Glue-up", content, label="Glue-up", live=False, register=register)
