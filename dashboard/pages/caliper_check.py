"""A guided check of an instrument: the jaws closed, then blocks of known size, kept as one check."""

from __future__ import annotations

from typing import Any

from dash import ALL, Dash, Input, Output, Patch, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.desk import Desk
from dashboard.forms import answers, button, choice, done, field, one_of, refusal, row
from dashboard.once import Once, token
from dashboard.page import Page, Query
from dashboard.shell import ADDRESS, HERE, UNIT, moved, mover
from dashboard.views import caliper as view
from qa.errors import QaError, ShopError
from qa.instruments import Instrument

BLOCKS = 2
MOST = 12
ADJUSTED = {"found": "as found", "adjusted": "after it was cleaned or set"}
AS_FOUND_FIRST = (
    "Check it as it is found, before cleaning or setting it: only that tells what its readings were worth. "
    "Then set it, and check again. No reading is ever rewritten."
)


def content(desk: Desk, query: Query) -> Component:
    """The form for the instrument that the address names, the first where it names none."""
    shop = desk.shop(query.get("unit"))
    if not shop.instruments:
        raise ShopError("there is no instrument to check: describe one in shop.toml")
    chosen = shop.instrument(query.get("instrument") or next(iter(shop.instruments)))
    names = {name: name for name in shop.instruments}
    return html.Div(
        [
            dcc.Store(id="check-asked", data={"instrument": chosen.id, "token": token()}),
            html.H1(["Check of ", chosen.id]),
            html.P(dcc.Link("All instruments", href="/calipers"), className="ways"),
            html.Div(
                [choice("check-instrument", "Instrument", names, chosen.id), mover()], className="choice"
            ),
            _form(chosen),
            answers("check-told"),
        ]
    )


def _form(instrument: Instrument) -> Component:
    unit = instrument.unit
    return html.Div(
        [
            html.P(AS_FOUND_FIRST),
            one_of("check-state", "Read", ADJUSTED, "found"),
            html.Ol(
                [
                    _closed(unit) if instrument.quantity == "length" else None,
                    html.Li(
                        [
                            html.P(
                                "Measure things of known size, far apart. A line left blank is passed over."
                            ),
                            html.Div(
                                [_block(number, unit) for number in range(1, BLOCKS + 1)], id="check-blocks"
                            ),
                            button("check-more", "Another size", quiet=True),
                        ]
                    ),
                ],
                className="guided",
            ),
            row([field("check-note", "Note"), field("check-by", "By")], "Note"),
            button("check-keep", "Keep this check"),
        ],
        id="check-form",
        className="form",
    )


def _closed(unit: str) -> html.Li:
    shown = field({"check-reading": 0}, f"Closed jaws read, {unit}", hint="0 if they read zero")
    zero = field({"check-reference": 0}, "Known size", value="0", style={"display": "none"})
    return html.Li(
        [html.P("Wipe the jaws: pull clean paper through them. Close them gently."), row([zero, shown])]
    )


def _block(number: int, unit: str) -> html.Div:
    return row(
        [
            field({"check-reference": number}, f"Known size {number}, {unit}", hint="such as 25.00"),
            field({"check-reading": number}, f"It reads there, {unit}", hint="as its display shows"),
        ],
        f"Known size {number}",
    )


def register(app: Dash, desk: Desk) -> None:
    """Choosing moves to the instrument's address; more sizes; the check is kept once."""
    kept: Once[Component] = Once()

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("check-instrument", "value"),
        State("check-asked", "data"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose(name: str | None, asked: dict[str, str], search: str) -> object:
        return no_update if not name or name == asked["instrument"] else moved({"instrument": name}, search)

    @app.callback(
        Output("check-blocks", "children"),
        Input("check-more", "n_clicks"),
        State("check-blocks", "children"),
        State("check-asked", "data"),
        prevent_initial_call=True,
    )
    def more(clicks: int | None, blocks: list[Any], asked: dict[str, str]) -> Any:
        if not clicks or len(blocks) >= MOST:
            return no_update
        added = Patch()
        added.append(_block(len(blocks) + 1, desk.shop().instrument(asked["instrument"]).unit))
        return added

    @app.callback(
        Output("check-told", "children"),
        Output("check-form", "hidden"),
        Input("check-keep", "n_clicks"),
        State({"check-reference": ALL}, "value"),
        State({"check-reading": ALL}, "value"),
        State("check-state", "value"),
        State("check-note", "value"),
        State("check-by", "value"),
        State("check-asked", "data"),
        State(UNIT, "data"),
        running=[(Output("check-keep", "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def keep(clicks: int | None, *typed: Any) -> Any:
        if not clicks:
            return no_update, no_update
        references, readings, state, note, by, asked, unit = typed
        places = [item["id"]["check-reading"] for item in ctx.states_list[1]]
        lines = list(zip(places, references, readings, strict=True))
        try:
            return kept.do(asked["token"], lambda: _keep(desk, asked, lines, (state, note, by), unit)), True
        except QaError as error:
            return refusal(error), False


def _keep(
    desk: Desk,
    asked: dict[str, str],
    lines: list[tuple[int, str | None, str | None]],
    about: tuple[str, str | None, str | None],
    unit: str | None,
) -> Component:
    from qa.calipers.check import keep_check, rejudge
    from qa.calipers.check_words import NO_CHECK_BEFORE
    from qa.calipers.standing import no_check_before

    shop, store = desk.shop(unit), desk.store()
    instrument = shop.instrument(asked["instrument"])
    state, note, by = about
    check = keep_check(
        store,
        instrument,
        _pairs(lines, instrument.unit),
        adjusted=state == "adjusted",
        text=(note or "").strip(),
        by=(by or "").strip(),
    )
    again = rejudge(shop, store, instrument, check)
    unfound = no_check_before(check, instrument, store.events("check"))
    return done(
        *view.found(instrument, check, shop.unit),
        *([html.P(NO_CHECK_BEFORE)] if unfound else []),
        *([view.doubt(check, again, shop)] if again else []),
        html.P(dcc.Link("All instruments", href="/calipers")),
    )


def _pairs(lines: list[tuple[int, str | None, str | None]], unit: str) -> list[Any]:
    """The sizes typed; ShopError names the line that lacks one or holds no number."""
    from qa.calipers.known_sizes import number

    pairs = []
    for place, reference, reading in lines:
        known, shown = (reference or "").strip(), (reading or "").strip()
        what = "closed jaws" if place == 0 else f"known size {place}"
        if not shown and (not known or place == 0):
            continue
        if not known or not shown:
            raise ShopError(f"{what}: give both the known size and what it reads there, or neither")
        try:
            pairs.append((number(known, unit), number(shown, unit)))
        except ValueError as error:
            raise ShopError(f"{what}: {error}") from error
    if not pairs:
        raise ShopError("Nothing was typed yet: read the closed jaws, or a block.")
    return pairs


PAGE = Page("caliper_check", "/calipers/check", "Check", content, live=False, register=register)
