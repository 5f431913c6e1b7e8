"""The glue decision: one part, on a screen of its own, in two steps; gluing it, or overriding its gate."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.addresses import decide_at, glueup_at
from dashboard.desk import Desk
from dashboard.forms import answers, as_amount, as_number, done, refusal
from dashboard.page import Page, Query
from dashboard.shell import UNIT
from dashboard.views.decision import (
    OVERRIDE,
    closed_by_air,
    confirm_glue,
    confirm_override,
    glue_form,
    override_form,
    typed_air,
)
from dashboard.words import moment
from qa.errors import QaError, ShopError

if TYPE_CHECKING:
    from qa.gate.gate import Climate, Gate
    from qa.plans.plan import Part

GLUE_FIELDS = ("glue", "batch", "rh", "temp", "open", "clamp", "clamps", "squeeze", "note", "by", "dry")
AIR = {"rh": "Relative humidity", "temp": "Temperature"}
STEP = (
    ("decide-confirm", "children"),
    ("decide-confirm", "hidden"),
    ("decide-form", "hidden"),
    ("decide-what", "data"),
    ("decide-told", "children"),
)


def content(desk: Desk, query: Query) -> Component:
    """The decision on the part of the build that the address names; ShopError where either is not known."""
    from qa.gate.deciding import last_glued
    from qa.gate.gluing import look

    build, name = query.get("build", ""), query.get("part", "")
    if not build or not name:
        raise ShopError("name the build and the part to glue: choose them on the Glue-up page")
    shop, store = desk.shop(query.get("unit")), desk.store()
    air = {key: query[key] for key in ("rh", "temp") if query.get(key)}
    gate, part = look(shop, store, build, name, _typed_air(air))
    asked = {"build": build, "part": name, "follows": last_glued(store, build, name), **air}
    named = [html.Span(part.title, className="huge"), html.Span(f"of build {build}", className="of-build")]
    return html.Div(
        [
            dcc.Store(id="decide-asked", data=asked),
            dcc.Store(id="decide-what"),
            html.H1(named),
            html.P(dcc.Link("Back to its gate", href=glueup_at(build, name)), className="ways"),
            override_form(gate, part) if query.get("way") == OVERRIDE else glue_form(gate, part, shop.zone()),
            answers("decide-confirm", hidden=True),
            answers("decide-told"),
        ]
    )


def register(app: Dash, desk: Desk) -> None:
    """Each step is asked of the server; the last one keeps the decision once."""
    turns = threading.Lock()
    typed = {name: State(f"decide-{name}", "checked" if name == "dry" else "value") for name in GLUE_FIELDS}
    asked, what = State("decide-asked", "data"), State("decide-what", "data")

    @app.callback(
        _step(),
        Input("decide-go-on", "n_clicks"),
        typed,
        asked,
        State(UNIT, "data"),
        prevent_initial_call=True,
    )
    def go_on(clicks: int | None, typed: dict[str, Any], asked: dict[str, Any], unit: str | None) -> Any:
        return _ask(_ask_glue, desk, asked, typed, unit) if clicks else [no_update] * len(STEP)

    @app.callback(
        _step(again=True),
        Input("decide-override", "n_clicks"),
        {"reason": State("decide-reason", "value"), "by": State("decide-reason-by", "value")},
        asked,
        State(UNIT, "data"),
        prevent_initial_call=True,
    )
    def go_on_override(
        clicks: int | None, typed: dict[str, Any], asked: dict[str, Any], unit: str | None
    ) -> Any:
        return _ask(_ask_override, desk, asked, typed, unit) if clicks else [no_update] * len(STEP)

    @app.callback(
        Output("decide-confirm", "hidden", allow_duplicate=True),
        Output("decide-form", "hidden", allow_duplicate=True),
        Input("decide-back", "n_clicks"),
        prevent_initial_call=True,
    )
    def back(clicks: int | None) -> Any:
        return (True, False) if clicks else (no_update, no_update)

    # Called as its button is drawn, too: were that disabled meanwhile, the Tab key would pass it by. What is
    # sent twice is kept once all the same.
    @app.callback(
        Output("decide-told", "children", allow_duplicate=True),
        Output("decide-confirm", "children", allow_duplicate=True),
        Input("decide-keep", "n_clicks"),
        what,
        asked,
        prevent_initial_call=True,
    )
    def keep(clicks: int | None, what: dict[str, Any] | None, asked: dict[str, Any]) -> Any:
        if not clicks or not what:
            return no_update, no_update
        try:
            with turns:
                return (_keep_override if "reason" in what else _keep_glue)(desk, asked, what), None
        except QaError as error:
            return refusal(error), None


def _step(again: bool = False) -> list[Output]:
    return [Output(name, prop, allow_duplicate=again) for name, prop in STEP]


def _ask(step: Any, desk: Desk, asked: dict[str, Any], typed: dict[str, Any], unit: str | None) -> list[Any]:
    """The second step in place of the first, or why not."""
    try:
        what, shown = step(desk, asked, typed, unit)
    except QaError as error:
        return [None, True, False, None, refusal(error)]
    return [None, True, False, None, shown] if what is None else [shown, False, True, what, None]


def _ask_glue(desk: Desk, asked: dict[str, Any], typed: dict[str, Any], unit: str | None) -> Any:
    what = _what_of(typed)
    gate, part = _look(desk, asked, what, unit)
    if not gate.open:
        return None, closed_by_air(gate, part)
    return what, confirm_glue(gate, part, what, again=bool(asked["follows"]))


def _ask_override(desk: Desk, asked: dict[str, Any], typed: dict[str, Any], unit: str | None) -> Any:
    reason = (typed["reason"] or "").strip()
    if not reason:
        raise ShopError("Type the reason: an override without one is not kept.")
    gate, part = _look_as_asked(desk, asked, unit)
    what = {"reason": reason, "by": (typed["by"] or "").strip(), "shown": _closed_for(gate)}
    return what, confirm_override(gate, part, reason)


def _closed_for(gate: Gate) -> list[Any]:
    """What keeps a gate closed, and the last reading it was told from, as a page keeps it."""
    return [gate.seen["last_row"], *([item.about, item.rank] for item in gate.reasons)]


def _what_of(typed: dict[str, Any]) -> dict[str, Any]:
    """What was typed, as it will be kept; ShopError where something needed is missing."""
    if not typed["dry"]:
        raise ShopError("Do the dry fit with every clamp first, and say so above.")
    if not (typed["glue"] or "").strip():
        raise ShopError("Name the glue: the record is of no use later without it.")
    kept = {
        "glue": typed["glue"].strip(),
        "batch": (typed["batch"] or "").strip(),
        "open_minutes": as_amount(typed["open"], "Open minutes"),
        "clamp_minutes": as_amount(typed["clamp"], "Clamp minutes"),
        "clamps": _clamps(typed["clamps"]),
        "squeeze_out": {"yes": True, "no": False}.get(typed["squeeze"] or ""),
    }
    return {
        "kept": {name: value for name, value in kept.items() if value not in (None, "")},
        **{key: as_number(typed[key], name) for key, name in AIR.items()},
        "note": (typed["note"] or "").strip(),
        "by": (typed["by"] or "").strip(),
    }


def _clamps(typed: str | None) -> int | None:
    found = as_amount(typed, "Clamps")
    if found is not None and not found.is_integer():
        raise ShopError(f"Clamps: how many there are, a whole number, not {found:g}")
    return None if found is None else int(found)


def _climate(gate: Gate, what: dict[str, Any]) -> Climate | None:
    """The air as typed; what the gate knows by itself where that is the same or none was typed."""
    known = gate.climate
    if known and (known.rh_percent, known.temp_c) == (what["rh"], what["temp"]):
        return None
    return _air(what["rh"], what["temp"])


def _air(rh: float | None, temp: float | None) -> Climate | None:
    from qa.gate.gate import Climate

    if rh is None:
        return None
    if not 0 < rh < 100:
        raise ShopError(f"{rh:g} % is no relative humidity of a room.")
    return Climate(rh, temp, "")


def _typed_air(asked: Mapping[str, Any]) -> Climate | None:
    """The room's air as the address has it; None where it has none."""
    rh, temp = (as_number(asked.get(key), name) for key, name in AIR.items())
    return _air(rh, temp)


def _look_as_asked(desk: Desk, asked: dict[str, Any], unit: str | None = None) -> tuple[Gate, Part]:
    """The gate in the air of the address."""
    from qa.gate.gluing import look

    return look(desk.shop(unit), desk.store(), asked["build"], asked["part"], _typed_air(asked))


def _look(
    desk: Desk, asked: dict[str, Any], what: dict[str, Any], unit: str | None = None
) -> tuple[Gate, Part]:
    from qa.gate.gluing import look

    place = desk.shop(unit), desk.store(), asked["build"], asked["part"]
    known = look(*place)
    climate = _climate(known[0], what)
    return known if climate is None else look(*place, climate)


def _keep_glue(desk: Desk, asked: dict[str, Any], what: dict[str, Any]) -> Component:
    from qa.gate.deciding import glue

    build, part = asked["build"], asked["part"]
    gate, _ = _look(desk, asked, what)
    climate = gate.climate if gate.climate and not gate.climate.at else None
    place = desk.shop(), desk.store(), build, part
    decided = glue(*place, asked["follows"], what["kept"], what["note"], what["by"], climate)
    at = moment(decided.event.at, desk.shop().zone())
    return done(
        html.P(f"The glue-up is recorded, {at}."),
        html.P("Once the clamps are off, read the part again: its gate then says what clamping moved."),
        html.P(dcc.Link("To its gate", href=glueup_at(build, part))),
    )


def _keep_override(desk: Desk, asked: dict[str, Any], what: dict[str, Any]) -> Component:
    from qa.gate.gluing import override

    gate, _ = _look_as_asked(desk, asked)
    if not gate.open:
        if _closed_for(gate) != what["shown"]:
            raise ShopError(
                "What closes the gate has changed meanwhile: nothing was overridden; look at it again."
            )
        override(desk.store(), gate, what["reason"], what["by"])
    elif gate.override != what["reason"]:
        raise ShopError("The gate is open by now: nothing was overridden.")
    return done(
        html.P("The override is kept with its reason; the gate is open."),
        html.P(
            dcc.Link(
                "Decide to glue it", href=decide_at(gate.build, gate.part, **typed_air(gate)), className="do"
            ),
            className="way-on",
        ),
    )


PAGE = Page("decide", "/glueup/decide", "Glue decision", content, live=False, register=register)
