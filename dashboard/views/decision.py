"""The two steps of the glue decision as they are drawn: what is typed, and what is said yes to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import decide_at
from dashboard.aria import aria
from dashboard.forms import button, field, lines, number, one_of, refusal, row
from dashboard.views import gate as view
from dashboard.words import moment, names_of, spoken
from qa.chronicle import glue_words
from qa.record import BenchEvent

if TYPE_CHECKING:
    import datetime as dt

    from qa.gate.gate import Gate
    from qa.plans.plan import Part

OVERRIDE = "override"
SEEN = {"yes": "seen all along", "no": "not seen all along", "": "not looked at"}
OVERRIDING = (
    "An override opens the gate for these reasons only, for a day, or until the part or one it meets is read "
    "or planed again. Its reason is kept for ever and shown wherever the part is."
)


def glue_form(gate: Gate, part: Part, zone: dt.tzinfo) -> Component:
    """What is kept of a glue-up; while the gate is closed, why not."""
    return _open_form(gate, part, zone) if gate.open else _closed(gate, part)


def typed_air(gate: Gate) -> dict[str, str]:
    """The air a gate was looked at in, as an address has it; nothing where it was noted and not typed."""
    air = gate.climate
    if air is None or air.at:
        return {}
    temp = {} if air.temp_c is None else {"temp": f"{air.temp_c:g}"}
    return {"rh": f"{air.rh_percent:g}", **temp}


def _all_the_same(gate: Gate) -> Component:
    """The way to an override, in the air that was typed."""
    way = decide_at(gate.build, gate.part, OVERRIDE, **typed_air(gate))
    link = dcc.Link("Glue it all the same, with a reason", href=way, className="do quiet-do")
    return html.P(link, className="way-on")


def closed_by_air(gate: Gate, part: Part) -> Component:
    """What closes the gate in the air that was typed, and the way to an override in it."""
    told = ["With this air the gate is closed.", *(spoken(r.why, names_of(part)) for r in gate.reasons)]
    return refusal("\n".join(told), _all_the_same(gate))


def _closed(gate: Gate, part: Part) -> Component:
    return html.Div(
        [
            html.P(view.gate_word(gate), className="gate-state"),
            html.P("While the gate is closed no glue-up is recorded.", className="lead"),
            view.reasons(gate, part),
            _all_the_same(gate),
        ],
        className="gate closed",
    )


def _open_form(gate: Gate, part: Part, zone: dt.tzinfo) -> Component:
    return html.Div(
        [
            html.P(view.gate_word(gate), className="gate-state"),
            html.Blockquote(gate.override) if gate.overridden else None,
            view.notes(gate, part, "Type it below."),
            html.P(view.CAUTION, className="caution"),
            dmc.Checkbox(id="decide-dry", label="The dry fit is done, with every clamp, and it closes"),
            row(
                [
                    field("decide-glue", "Glue", needed=True),
                    field("decide-batch", "Batch, or day it was opened"),
                ],
                "Glue",
            ),
            _air(gate, zone),
            row(
                [
                    number("decide-open", "Open minutes", hint="from spreading to the first clamp"),
                    number("decide-clamp", "Clamp minutes", hint="as planned, or as they were"),
                    number("decide-clamps", "Clamps", hint="how many"),
                ],
                "Clamping",
            ),
            one_of("decide-squeeze", "Squeeze-out", SEEN, ""),
            row([lines("decide-note", "Note"), field("decide-by", "By")], "Note"),
            button("decide-go-on", "Go on"),
        ],
        id="decide-form",
        className="form",
    )


def _air(gate: Gate, zone: dt.tzinfo) -> Component:
    air = gate.climate
    hint = f"as noted {moment(air.at, zone)}" if air and air.at else "as the hygrometer shows it"
    rh, temp = (air.rh_percent, air.temp_c) if air else (None, None)
    return row(
        [
            number("decide-rh", "Relative humidity, %", rh, hint),
            number("decide-temp", "Temperature, °C", temp, hint if temp is not None else "of the room"),
        ],
        "The room's air",
    )


def override_form(gate: Gate, part: Part) -> Component:
    """The reason that opens a closed gate; where it is open, that there is nothing to override."""
    if gate.open:
        way = decide_at(gate.build, gate.part, **typed_air(gate))
        go = dcc.Link("Decide to glue it", href=way, className="do")
        return html.Div(
            [html.P("The gate is open: there is nothing to override.", className="lead"), html.P(go)]
        )
    reason = lines("decide-reason", "Why it is glued all the same", required=True)
    return html.Div(
        [
            html.P(view.gate_word(gate), className="gate-state"),
            view.reasons(gate, part),
            html.P(OVERRIDING),
            html.P(view.CAUTION, className="caution"),
            row([reason, field("decide-reason-by", "By")], "Reason"),
            button("decide-override", "Go on"),
        ],
        id="decide-form",
        className="form",
    )


def confirm_glue(gate: Gate, part: Part, what: dict[str, Any], again: bool) -> Component:
    """What will be kept of the glue-up, to say yes to; `again` where the part was glued up before."""
    air = {"rh_percent": gate.climate.rh_percent, "temp_c": gate.climate.temp_c} if gate.climate else {}
    body = what["kept"] | air | {"overridden": gate.overridden, "again": again}
    told = [*glue_words(BenchEvent("", "glue-up", body=body)), ("note", what["note"]), ("by", what["by"])]
    facts = [html.Div([html.Dt(name), html.Dd(text)]) for name, text in told if text]
    said = ["The glue-up of ", html.Strong(part.title), f" of {gate.build} is kept for ever as:"]
    return _confirm(
        [html.P(said, className="lead"), html.Dl(facts, className="facts")],
        f"Keep the glue-up of {part.title}",
    )


def confirm_override(gate: Gate, part: Part, reason: str) -> Component:
    """The reason, and what it goes against, to say yes to."""
    said = ["You override the closed gate of ", html.Strong(part.title), f" of {gate.build}, for:"]
    return _confirm(
        [
            html.P(said, className="lead"),
            html.Blockquote(reason),
            html.P("It is closed for:"),
            view.reasons(gate, part),
        ],
        f"Override the gate of {part.title}",
    )


def _confirm(said: list[Component], words: str) -> Component:
    steps = [button("decide-keep", words, grave=True), button("decide-back", "Back", quiet=True)]
    return html.Section(
        [*said, html.Div(steps, className="steps")],
        className="confirm",
        tabIndex=-1,
        **aria(label="Say yes once more"),
    )
