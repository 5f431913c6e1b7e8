"""A study of an instrument's repeats, typed or pasted: what it can prove, and keeping that."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.desk import Desk
from dashboard.forms import (
    answers,
    as_amount,
    as_number,
    button,
    choice,
    done,
    field,
    lines,
    number,
    one_of,
    refusal,
    row,
)
from dashboard.once import Once, token
from dashboard.page import Page, Query
from dashboard.shell import ADDRESS, HERE, moved, mover
from dashboard.views import caliper as view
from qa.calipers.study_wood import ANY, wood_of, woods
from qa.errors import QaError, ShopError

if TYPE_CHECKING:
    from qa.calipers.study import Study

HOW = (
    "Measure one part ten times at one place, with the jaws taken off and set anew each time. Type the "
    "readings as they come, or paste a table with the columns part, appraiser, trial, value, and species if "
    "you like. Soft wood gives under the jaws: say which wood it was, and only parts of that wood are judged "
    "by it."
)
REPEATS, REFERENCE, COMPLIANCE = "repeats", "reference", "compliance"
KINDS = {
    REPEATS: "how well it repeats",
    REFERENCE: "how far off it reads a known size",
    COMPLIANCE: "how far the wood gives: a light, then a firm thumb, place by place",
}


def content(desk: Desk, query: Query) -> Component:
    """The form for the instrument that the address names, else for the first that measures lengths."""
    shop = desk.shop(query.get("unit"))
    names = {name: name for name, item in shop.instruments.items() if item.quantity == "length"}
    if not names:
        raise ShopError("there is no instrument of lengths to study: describe one in shop.toml")
    chosen = shop.instrument(query.get("instrument") or next(iter(names)))
    return html.Div(
        [
            dcc.Store(id="study-asked", data={"instrument": chosen.id, "token": token()}),
            html.H1(["Repeats of ", chosen.id]),
            html.P(dcc.Link("All instruments", href="/calipers"), className="ways"),
            html.Div(
                [choice("study-instrument", "Instrument", names, chosen.id), mover()], className="choice"
            ),
            html.Div(
                [
                    html.P(HOW),
                    one_of("study-kind", "What is asked", KINDS, REPEATS),
                    lines("study-text", "Readings, mm", "apart by blanks, semicolons or lines", rows=5),
                    row(
                        [
                            choice(
                                "study-species", "Wood", {ANY: "any wood"} | {w: w for w in woods(shop)}, ANY
                            ),
                            number("study-tolerance", "Tolerance to prove, ± mm", hint="may be left blank"),
                            number("study-reference", "Known size, mm", hint="where one was read"),
                            field("study-by", "By"),
                        ],
                        "Study",
                    ),
                    html.Div(
                        [
                            button("study-look", "Look at it"),
                            button("study-keep", f"Keep it for {chosen.id}", quiet=True),
                        ],
                        className="steps",
                    ),
                ],
                className="form",
            ),
            answers("study-told"),
        ]
    )


def register(app: Dash, desk: Desk) -> None:
    """Choosing moves to the instrument's address; a study is told, or told and kept once."""
    kept: Once[Component] = Once()

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("study-instrument", "value"),
        State("study-asked", "data"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose(name: str | None, asked: dict[str, str], search: str) -> object:
        return no_update if not name or name == asked["instrument"] else moved({"instrument": name}, search)

    @app.callback(
        Output("study-told", "children"),
        Input("study-look", "n_clicks"),
        Input("study-keep", "n_clicks"),
        State("study-text", "value"),
        State("study-kind", "value"),
        State("study-species", "value"),
        State("study-tolerance", "value"),
        State("study-reference", "value"),
        State("study-by", "value"),
        State("study-asked", "data"),
        running=[(Output("study-keep", "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def look(
        looked: int | None,
        keeps: int | None,
        text: str,
        kind: str,
        species: str,
        tolerance: str | None,
        reference: str | None,
        by: str,
        asked: dict[str, str],
    ) -> Any:
        if not looked and not keeps:
            return no_update
        try:
            judged, known = as_number(tolerance, "Tolerance"), as_amount(reference, "Known size")
            made = _analysed(text or "", judged, asked["instrument"], kind, known, species)
            if ctx.triggered_id != "study-keep":
                return done(*view.study(made, judged))
            name = repr((asked["token"], text, kind, species, judged, known))
            return kept.do(name, lambda: _keep(desk, made, judged, asked["instrument"], by))
        except QaError as error:
            return refusal(error)


def _analysed(
    text: str,
    tolerance: float | None,
    instrument: str,
    kind: str = REPEATS,
    reference: float | None = None,
    species: str = ANY,
) -> Study:
    from qa.calipers.study import analyse
    from qa.calipers.study_keeping import study_of_text

    if tolerance is not None and not 0 < tolerance < 1000:
        raise ShopError(f"a tolerance must be above 0 mm, got {tolerance:g}")
    if kind == REFERENCE and reference is None:
        raise ShopError("type the known size that was read")
    wood = "" if species == ANY else species
    compliance = kind == COMPLIANCE
    return analyse(
        study_of_text(text, instrument, compliance),
        tolerance,
        reference if kind == REFERENCE else None,
        compliance,
        species=wood,
    )


def _keep(desk: Desk, made: Study, tolerance: float | None, instrument: str, by: str) -> Component:
    from qa.calipers.study_keeping import keep_study
    from qa.calipers.study_words import say_kept

    shop = desk.shop()
    made = replace(made, species=wood_of(shop, made.species))
    kept_for, source = shop.instrument(instrument), "typed into the page"
    keep_study(desk.store(), made, kept_for, source, (by or "").strip(), among=shop.instruments)
    return done(
        *view.study(made, tolerance),
        html.P(html.Strong(say_kept(instrument, made.species))),
        html.P(dcc.Link("All instruments", href="/calipers")),
    )


PAGE = Page("caliper_study", "/calipers/study", "Study", content, live=False, register=register)
