"""The form that states a fix, so that charts begin anew after it."""

from __future__ import annotations

import datetime as dt
import threading
from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.desk import Desk
from dashboard.forms import button, choice, done, field, refusal, row
from dashboard.pages.drift_kept import shop_report
from dashboard.words import plain
from qa.errors import QaError

if TYPE_CHECKING:
    from qa.drift.report import DriftReport
    from qa.drift.stating import Concerns
    from qa.shop import Shop

NOTHING, APART = "nothing", "\x1f"


def fix_form(part: str = "", characteristic: str = "") -> Component:
    """What was put right, when, and on what; on a series' own page its part stands first.

    Its fields come once the page is drawn, for they hold a browser up more than words do.
    """
    return html.Details(
        [
            html.Summary("State a fix"),
            html.P(
                "Say what you put right and when: charts of what it was done to begin anew with the next "
                "build, and older builds promise nothing for newer ones. A fix is kept for ever."
            ),
            html.Div(id="fix-fields", className="form"),
            html.Div(id="fix-told"),
            dcc.Store(id="fix-for", data=[part, characteristic]),
        ],
        className="more fix",
        id="fix-form",
    )


def _fields(shop: Shop, found: DriftReport, part: str, characteristic: str) -> list[Component]:
    today = dt.datetime.now(shop.zone()).date().isoformat()
    concerns = _concerns(shop, found, part, characteristic)
    return [
        field("fix-text", "What was put right", hint="for example: new fence", needed=True),
        row(
            [
                field("fix-day", "Day", today, attributes={"input": {"type": "date"}}),
                choice("fix-of", "What it was done to", concerns, next(iter(concerns))),
            ],
            "When and on what",
        ),
        button("fix-keep", "Keep the fix"),
    ]


def _concerns(shop: Shop, found: DriftReport, part: str, characteristic: str) -> dict[str, str]:
    """What a fix may be done to, by the value its choice sends."""
    from qa.drift.look import parts_of

    titles = {name: one.title for name, one in parts_of(shop).items()}
    machines = sorted({one.machine for track in found.tracks for one in track.made if one.machine})
    own = {}
    if part in titles:
        own[_value("part", part, characteristic)] = f"{titles[part]}, {plain(characteristic)} only"
    listed = {_value("machine", name): f"{name}: all it makes" for name in machines}
    listed |= {_value("part", name): f"{title}: all of it" for name, title in titles.items()}
    return own | {NOTHING: "Nothing in particular: drawn on every chart"} | listed


def _value(*words: str) -> str:
    return APART.join(words)


def _chosen(value: str | None) -> Concerns:
    from qa.drift.stating import Concerns

    kind, *names = (value or NOTHING).split(APART)
    if kind == "machine":
        return Concerns(machine=names[0])
    return Concerns(part=names[0], characteristic="".join(names[1:])) if kind == "part" else Concerns()


def register_fix(app: Dash, desk: Desk) -> None:
    """Bring the fields, and keep what they say, once."""
    turns = threading.Lock()

    @app.callback(Output("fix-fields", "children"), Input("fix-for", "data"))
    def bring(concerned: list[str] | None) -> Any:
        if concerned is None:
            return no_update
        try:
            return _fields(desk.shop(), shop_report(desk), *concerned)
        except QaError as error:
            return refusal(error)

    @app.callback(
        Output("fix-told", "children"),
        Output("fix-text", "value"),
        Input("fix-keep", "n_clicks"),
        State("fix-text", "value"),
        State("fix-day", "value"),
        State("fix-of", "value"),
        running=[(Output("fix-keep", "disabled"), True, False)],
        prevent_initial_call=True,
    )
    def keep(clicks: int | None, text: str | None, day: str | None, of: str | None) -> Any:
        from qa.drift.stating import kept_words, state_once

        if not clicks:
            return no_update, no_update
        now = dt.datetime.now(dt.UTC)
        try:
            with turns:
                stated = state_once(desk.shop(), desk.store(), text or "", day or "", _chosen(of), now)
        except QaError as error:
            return refusal(error), no_update
        return done(kept_words(stated)), ""
