"""Bench: one part is read, station by station, without a mouse; what each reading says is seen from afar."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qsl

from dash import ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.addresses import plan_new_at
from dashboard.aria import data
from dashboard.bench.asked import PATH, asked_of, bench_of
from dashboard.bench.chooser import choose_build, choose_part
from dashboard.bench.fresh import register_feed
from dashboard.bench.furniture import keys, make_believe, this_bench
from dashboard.bench.lines import elsewhere, heard_nowhere, instrument_line, waits
from dashboard.bench.panels import fresh_reading, last_reading, next_place, part_words
from dashboard.bench.route import register_route
from dashboard.bench.run_chart import run_chart
from dashboard.bench.state import said, state_of
from dashboard.bench.warm import warm_up
from dashboard.desk import Desk
from dashboard.notices import refused
from dashboard.page import Page, Query
from dashboard.shell import ADDRESS, HERE, POSITION, UNIT, look_again, moved
from qa.bench.acts import open_bench
from qa.bench.at_bench import Chosen
from qa.bench.capture import Bench
from qa.bench.view import BenchView, look
from qa.calipers.in_shop import instruments_of
from qa.errors import QaError, WhichModel
from qa.gate.advice import CAUTION
from qa.paper.drawing import face_svg, verdicts_by_place

if TYPE_CHECKING:
    from qa.shop import Shop

SHOWN = (
    "bench-line",
    "bench-elsewhere",
    "bench-next",
    "bench-reading",
    "bench-fit",
    "bench-heard",
    "bench-said",
)
"""What is drawn again whenever something was stored, in the order of `_shown`."""


def content(desk: Desk, query: Query) -> Component:
    """The part the address names at its bench; the choice of one where it names none."""
    again = html.P(dcc.Link("Choose again", href=PATH))
    try:
        shop = desk.shop(query.get("unit"))
        at = asked_of(shop, query)
        if at.build and at.part:
            return _at_bench(desk, shop, at)
        return choose_part(desk, shop, at) if at.build else choose_build(desk, shop)
    except WhichModel:
        return html.Div([html.H1(["Bench ", html.Span(at.build)]), *_choose_model(shop, query), again])
    except QaError as error:
        return html.Div([html.H1("Bench"), refused(error), again, look_again("bench")])


def _choose_model(shop: Shop, query: Query) -> list[Component]:
    """The models a build not begun may be of, by the same address with each; where there is none, a plan."""
    if not shop.plans:
        begun = dcc.Link("Begin a plan", href=plan_new_at())
        return [html.P("There is no plan yet, so nothing can be read.", className="lead"), html.P(begun)]
    kept = {name: query.get(name, "") for name in ("build", "part", "by", "bench", "machine")}
    links = [dcc.Link(html.Strong(name), href=bench_of(**kept, model=name)) for name in shop.plans]
    return [
        html.P("A new build. Choose its model.", className="lead"),
        html.Ul([html.Li(link) for link in links], className="bench-links"),
    ]


def _at_bench(desk: Desk, shop: Shop, at: Chosen) -> Component:
    warm_up()
    stand = desk.stand(at.build, at.part)
    bench, view = _looked(desk, shop, at)
    shown = dict(zip(SHOWN, _shown(desk, shop, at, view), strict=True))
    pieces = {name: html.Div(children, id=name) for name, children in shown.items()}
    aloud = html.Div(shown["bench-said"], id="bench-said", className="heard", role="status")
    return html.Div(
        [
            html.Div(
                [
                    html.H1([html.Span(at.build, className="bench-build"), " ", bench.part.title]),
                    pieces["bench-line"],
                ],
                className="bench-head",
            ),
            pieces["bench-elsewhere"],
            html.Div(
                [
                    pieces["bench-next"],
                    html.Div(id="bench-face"),
                    html.Div([fresh_reading(), pieces["bench-reading"]], className="bench-reading-place"),
                    html.Div(
                        [
                            make_believe() if desk.press is not None else None,
                            html.Div(id="bench-form"),
                            keys(),
                        ],
                        className="bench-hands",
                    ),
                ],
                className="bench-main",
            ),
            pieces["bench-fit"],
            html.Div(id="bench-runs"),
            pieces["bench-heard"],
            this_bench(shop, at),
            html.P(CAUTION, className="aside bench-caution"),
            aloud,
            dcc.Store(id="bench-svg", data=_face(bench, view, shop)),
            dcc.Store(id="bench-rested"),
            dcc.Store(id="bench-asked"),
            dcc.Store(id="bench-drawn"),
            dcc.Store(id="bench-state", data=state_of(desk, shop, at, view, stand)),
        ],
        id="bench",
        **data(polled="yes" if _is_polled(desk, at) else ""),
    )


def _is_polled(desk: Desk, at: Chosen) -> bool:
    standing = desk.hearing.standing(at.instrument) if desk.hearing else None
    return bool(standing and standing.asks)


def _looked(desk: Desk, shop: Shop, at: Chosen) -> tuple[Bench, BenchView]:
    """The bench and what it shows: this part alone is judged."""
    store = desk.bench_store()
    bench = open_bench(shop, store, at)
    return bench, look(bench, instruments_of(shop, store), shop.unit)


def _shown(desk: Desk, shop: Shop, at: Chosen, view: BenchView) -> list[Any]:
    return [
        instrument_line(desk, shop, at),
        elsewhere(desk, shop, at),
        next_place(view, shop),
        last_reading(view, shop),
        part_words(view),
        heard_nowhere(desk, view.place.name),
        said(view, shop.unit),
    ]


def _face(bench: Bench, view: BenchView, shop: Shop) -> str:
    highlight = f"{view.place.characteristic.name}/{view.place.station.name}"
    verdicts = verdicts_by_place(view.part)
    return face_svg(bench.part, shop.unit, highlight=highlight, verdicts=verdicts, width=480, height=330)


def _here(desk: Desk, search: str | None, unit: str | None) -> tuple[Shop, Chosen]:
    shop = desk.shop(unit)
    return shop, asked_of(shop, dict(parse_qsl((search or "").lstrip("?"))))


def register(app: Dash, desk: Desk) -> None:
    """Follows the store; choosing moves to the address of what was chosen."""
    register_route(app, desk)
    register_feed(app, desk)
    _register_live(app, desk)
    for name, output, inputs in (
        ("face", Output("bench-face", "data-drawn"), [Input("bench-svg", "data")]),
        ("arrived", Output("bench-form", "data-at"), [Input("bench-state", "data")]),
        # Asking is no output of it: else, as a page opens, all that drawing changes would wait for it.
        (
            "ask",
            Output("bench-face", "data-asked"),
            [Input(POSITION, "data"), Input("bench-drawn", "data")],
        ),
    ):
        app.clientside_callback(ClientsideFunction("bench", name), output, inputs)

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("bench-build", "n_submit"),
        State("bench-build", "value"),
        State("bench-model", "value"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose(_: int | None, build: str | None, model: str | None, search: str) -> object:
        known = desk.bench_store().build((build or "").strip())
        chosen = {"build": (build or "").strip(), "model": None if known else model}
        return moved(chosen, search) if chosen["build"] else no_update

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("bench-by", "value"),
        Input("bench-name", "value"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def settle(by: str | None, bench: str | None, search: str) -> object:
        if len(ctx.triggered) > 1:
            return no_update
        now = dict(parse_qsl((search or "").lstrip("?")))
        return moved(now | {"by": by, "bench": (bench or "").strip()}, search)


def _register_live(app: Dash, desk: Desk) -> None:
    outputs = [Output(name, "children") for name in SHOWN]

    # Over the open socket: a reading is on the screen sooner, and nothing asks while nothing happens.
    @app.callback(
        *outputs,
        Output("bench-svg", "data"),
        Output("bench-state", "data"),
        Output("bench-drawn", "data"),
        Input("bench-asked", "data"),
        State(HERE, "search"),
        State(UNIT, "data"),
        State("bench-state", "data"),
        prevent_initial_call=True,
        websocket=True,
    )
    def follow(asked: object, search: str, unit: str | None, state: dict[str, Any] | None) -> Any:
        found: list[Any] = [*[no_update] * (len(SHOWN) + 2), asked]
        try:
            shop, at = _here(desk, search, unit)
            if not (at.build and at.part):
                return found
            stand = desk.stand(at.build, at.part)
            if state and state["stand"] == stand:
                return found  # at twenty benches most of what is stored is of other parts
            bench, view = _looked(desk, shop, at)
            now = state_of(desk, shop, at, view, stand)
            return [*_shown(desk, shop, at, view), _face(bench, view, shop), now, asked]
        except QaError as error:
            found[SHOWN.index("bench-next")] = refused(error)
            return found

    @app.callback(
        Output("bench-runs", "children"),
        Input("bench-rested", "data"),
        State(HERE, "search"),
        State(UNIT, "data"),
    )
    def draw_runs(_: object, search: str, unit: str | None) -> Any:
        try:
            shop, at = _here(desk, search, unit)
            chart = run_chart(*_looked(desk, shop, at), shop.unit)
            # Loads the chart library once the page is drawn: with the second pass it would hold up a reading.
            return chart or html.Div(dcc.Graph(figure={}), hidden=True)
        except QaError:
            return no_update

    @app.callback(
        Output("bench-waits", "children"),
        Input(POSITION, "data"),
        prevent_initial_call=True,
    )
    def hear(_: object) -> Any:
        try:
            return waits(desk)
        except QaError:
            return no_update


PAGE = Page("bench", PATH, "Bench", content, label="Bench", live=False, register=register)
