"""What stands around every page: header, navigation, the banner of lost contact, and the live stores."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any
from urllib.parse import urlencode

import dash
import dash_mantine_components as dmc
from dash import MATCH, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.ahead import OPENED, Ahead, Begins
from dashboard.aria import aria
from dashboard.desk import Desk
from dashboard.notices import no_such_page, refused
from dashboard.page import Page, Query
from qa.errors import QaError

POSITION = "store-position"
"""A dcc.Store of the shell that changes whenever something is stored or a plan changes."""
ADDRESS = "address"
"""The `mover` of a page: set its `search` to move to another address without a reload."""
HERE = "_pages_location"
"""The router's own dcc.Location: read `pathname` and `search` from it."""
UNIT = "unit"
"""A dcc.Store of the shell, kept as a cookie: the unit lengths are shown in, None for the shop's own."""
ROUTED, FIRST = "shown_in", "first"
ROUTING = {ROUTED: Input(UNIT, "data"), FIRST: State("_pages_store", "data")}
"""What the router hands to a page beside what its address says."""
PING_MS = 2000
Drawn = tuple[object, Component]
"""A page, and where the store stood before it was drawn."""


def mover() -> dcc.Location:
    """What moves to another address; to be drawn together with the choices that a person moves by.

    The framework calls a callback by itself when its inputs are drawn anew, unless its output is drawn with
    them. Beside its choices this keeps a page drawn anew from asking for what it shows, and so from undoing a
    step back.
    """
    return dcc.Location(id=ADDRESS, refresh="callback-nav")


def moved(chosen: Mapping[str, str | None], search: str | None) -> Any:
    """The `search` to move to for what was chosen, or no update where the address already says so."""
    wanted = urlencode({name: value for name, value in chosen.items() if value})
    wanted = f"?{wanted}" if wanted else ""
    return no_update if wanted == (search or "") else wanted


def shell(desk: Desk, pages: Sequence[Page], place: Component, unit: str) -> Component:
    """The layout of the whole; drawn anew for each visit, so that a changed shop name shows."""
    return dmc.MantineProvider(
        [
            html.A("Skip to content", href="#content", className="skip"),
            _header(desk, pages),
            _banner(),
            html.Main(place, id="content", tabIndex=-1),
            html.Div(id="announcer", className="heard", role="status"),
            dcc.Store(id=POSITION),
            dcc.Store(id=UNIT, data=unit or None),
            dcc.Store(id="pong"),
            dcc.Interval(id="ping", interval=PING_MS),
            dcc.Interval(id="second", interval=1000),
        ],
        defaultColorScheme="auto",
        theme={"fontFamily": "var(--sans)", "fontFamilyMonospace": "var(--mono)", "primaryColor": "dark"},
    )


def register_shell(app: Dash, desk: Desk, pages: Sequence[Page]) -> None:
    """Add the pages to the app's addresses, and the callbacks of the shell."""
    by_path = {page.path: page for page in pages}
    ahead = Ahead(lambda path, query: _drawn(by_path[path], desk, query))

    async def ready(path: str, query: Query) -> None:
        if path in by_path:
            await ahead.ready(path, query)

    def whole() -> Component:
        path, query = OPENED.get(("", {"unit": ""}))
        drawn = ahead.drawn(path, query)
        place = _place(by_path[path], query, drawn, desk) if drawn else dash.page_container
        return shell(desk, pages, place, query["unit"])

    app.layout = whole
    app.server.add_middleware(Begins, ready=ready)
    for page in pages:
        dash.register_page(
            f"dashboard.pages.{page.name}",
            path=None if "<" in page.path else page.path,
            path_template=page.path if "<" in page.path else None,
            title=_title(page, desk),
            name=page.label or page.title,
            layout=_layout_of(page, desk, ahead),
        )
    # The router looks for a page of this name where no address fits.
    dash.register_page(
        "dashboard.not_found_404",
        path="/not-found",
        title="No such page",
        layout=lambda **query: no_such_page(),
    )
    by_name = {page.name: page for page in pages}

    @app.callback(
        Output({"live": MATCH}, "children"),
        Input(POSITION, "data"),
        State({"drawn": MATCH}, "data"),
        prevent_initial_call=True,
    )
    def draw_again(position: dict[str, object] | None, drawn: dict[str, Any]) -> Any:
        if not position or position == drawn["position"]:
            return no_update
        return drawn_page(by_name[ctx.outputs_list["id"]["live"]], desk, drawn["query"])

    for name, output, inputs in (
        ("contact", Output("contact", "hidden"), [Input("second", "n_intervals"), Input("pong", "data")]),
        ("here", Output("pages", "data-here"), [Input(HERE, "pathname")]),
        ("arrive", Output("announcer", "children"), [Input("_pages_store", "data")]),
    ):
        app.clientside_callback(ClientsideFunction("shell", name), output, inputs)
    app.clientside_callback(
        ClientsideFunction("shell", "look_again"),
        Output({"refused": MATCH}, "data"),
        [Input(POSITION, "data"), State({"drawn": MATCH}, "data")],
        prevent_initial_call=True,
    )
    usual = State("unit-toggle", "data-usual")
    app.clientside_callback(
        ClientsideFunction("shell", "other_unit"),
        Output(UNIT, "data"),
        [Input("unit-toggle", "n_clicks"), State(UNIT, "data"), usual],
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("shell", "unit_named"),
        Output("unit-toggle", "children"),
        [Input(UNIT, "data"), usual],
    )
    for page in pages:
        if page.register:
            page.register(app, desk)


def drawn_page(page: Page, desk: Desk, query: Query) -> Component:
    """The content of a page, or what stands in its way."""
    try:
        return page.content(desk, query)
    except QaError as error:
        return html.Div([html.H1(page.title), refused(error), None if page.live else look_again(page.name)])


def look_again(name: str) -> dcc.Store:
    """Loads a page that does not follow the store anew, once the files that stood in its way are others."""
    return dcc.Store(id={"refused": name})


def _layout_of(page: Page, desk: Desk, ahead: Ahead[Drawn]) -> Any:
    def layout(**query: Any) -> Any:
        query["unit"] = query.pop(ROUTED, None) or ""
        first = query.pop(FIRST, None) or {}
        # What an address says several times the router hands over as a list.
        query = {name: said[-1] if isinstance(said, list) else said for name, said in query.items()}
        if first.get(FIRST) == [page.name, query]:
            return no_update
        drawn = ahead.take(page.path, query)
        if drawn is None or drawn[0] != desk.position():
            drawn = _drawn(page, desk, query)
        return _framed(page, query, drawn)

    return layout


def _place(page: Page, query: Query, drawn: Drawn, desk: Desk) -> Component:
    """The router's place for a page with the first one in it already, and its store telling the router so."""
    place = deepcopy(dash.page_container)
    place["_pages_content"].children = _framed(page, query, drawn)
    place["_pages_store"].data = {"title": _title(page, desk), FIRST: [page.name, query]}
    return place


def _framed(page: Page, query: Query, drawn: Drawn) -> Component:
    return html.Div(
        [
            dcc.Store(id={"drawn": page.name}, data={"query": query, "position": drawn[0]}),
            html.Div(drawn[1], **({"id": {"live": page.name}} if page.live else {})),
        ],
        className=f"page page-{page.name}",
    )


def _drawn(page: Page, desk: Desk, query: Query) -> Drawn:
    """A page, and where the store stood before it was drawn."""
    position = desk.position()
    return position, drawn_page(page, desk, query)


def _title(page: Page, desk: Desk) -> str:
    return f"{page.title} · {_shop_name(desk)}"


def _shop_name(desk: Desk) -> str:
    try:
        return desk.shop().name
    except QaError:
        return desk.folder.name


def _shop_unit(desk: Desk) -> str:
    try:
        return desk.shop().unit
    except QaError:
        return "mm"


def _header(desk: Desk, pages: Sequence[Page]) -> html.Header:
    links = [dcc.Link(page.label, href=page.path, className="rule-link") for page in pages if page.label]
    return html.Header(
        [
            html.Div(
                [
                    html.Span(_shop_name(desk), className="shop"),
                    html.Div([_unit_toggle(desk), _theme_toggle()], className="toggles"),
                ],
                className="top",
            ),
            html.Nav(links, id="pages", **aria(label="Pages")),
        ],
        className="rule",
    )


def _unit_toggle(desk: Desk) -> html.Button:
    """Names the unit it switches to; changes only how lengths are shown."""
    return html.Button(
        id="unit-toggle",
        type="button",
        className="toggle",
        title="Show lengths in the other unit",
        **{"data-usual": _shop_unit(desk)},
    )


def _theme_toggle() -> html.Button:
    return html.Button(
        [html.Span("Daylight", className="to-light"), html.Span("Dark", className="to-dark")],
        id="theme-toggle",
        type="button",
        className="toggle",
        **aria(label="Switch between daylight and dark"),
    )


def _banner() -> html.Div:
    return html.Div(
        [
            html.Strong("No contact with the server", role="alert"),
            html.Span([" for ", html.Span(id="contact-seconds"), " s. "], **aria(hidden="true")),
            "What you see may be old; it comes alive again by itself.",
        ],
        id="contact",
        className="banner",
        hidden=True,
    )
