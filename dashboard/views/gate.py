"""The gate before glue-up as a page shows it: open or closed, why, how the wood will move, what was kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import check_at
from dashboard.aria import aria
from dashboard.words import amount, moment, names_of, plain, signed, spoken
from qa.chronicle import glue_words, overrode
from qa.gate.reasons import INSTRUMENT
from qa.gate.words import say_clamped, say_unpredicted

if TYPE_CHECKING:
    from qa.gate.gate import Climate, Gate, Note, Reason
    from qa.gate.gluing import Clamped
    from qa.gate.movement import Moved
    from qa.plans.plan import Part
    from qa.record import BenchEvent
    from qa.shop import Shop

SHOWN = 3
"""Reasons shown before the others are folded away."""
CAUTION = (
    "Glue is irreversible. Do the dry fit with every clamp first. The glue maker's instructions come first "
    "for open time, temperature, gloves and fresh air; hot glue and hot tools burn."
)


def gate_word(gate: Gate) -> html.Span:
    """Open or closed, as a shape and a word."""
    kind = "open" if gate.open else "closed"
    word = "gate open by override" if gate.overridden else f"gate {kind}"
    return html.Span(
        [html.Span(className=f"gate-mark {kind}", **aria(hidden="true")), html.Span(word)], className="marked"
    )


def reasons(gate: Gate, part: Part, shown: int | None = None) -> Component:
    """Every reason with what would help; those beyond `shown` folded away."""
    if not gate.reasons:
        return html.P("Nothing stands in the way.", className="reasons-none")
    items = [html.Li([_next(item.next, gate), *_told(item, part)]) for item in gate.reasons]
    if shown is None or len(items) <= shown + 1:
        return html.Ul(items, className="reasons")
    rest = len(items) - shown
    return html.Div(
        [
            html.Ul(items[:shown], className="reasons"),
            html.Details(
                [html.Summary(f"{rest} more reasons"), html.Ul(items[shown:], className="reasons")],
                className="more",
            ),
        ]
    )


def _next(word: str, gate: Gate) -> Component | None:
    """What one reason asks for, where that is not what comes first."""
    return None if word == gate.next and not gate.open else html.Strong(f"{word}: ")


def notes(gate: Gate, part: Part, air: str) -> Component | None:
    """What could not be looked at; it closes nothing. `air` says where this page takes the room's air."""
    items = [html.Li(_told(item, part, air)) for item in gate.notes]
    return html.Ul(items, className="notes") if items else None


def _told(item: Reason | Note, part: Part, air: str = "") -> list[Component]:
    """Why, and what this page has for what it asks."""
    why = spoken(item.why, names_of(part))
    if item.asks == "air":
        return [html.Span(f"{why} {air}")]
    if item.asks:
        name = item.about.removeprefix(INSTRUMENT)
        return [html.Span(f"{why} "), dcc.Link(f"Check {name}", href=check_at(name))]
    return [html.Span(why)]


def room(climate: Climate | None, window: tuple[float, float], zone: dt.tzinfo) -> html.P:
    """The room's air, when it was read, and the air that gluing asks for."""
    low, high = window
    asked = f"Gluing asks for {low:g} to {high:g} % RH."
    if climate is None:
        return html.P(
            [html.Strong("The room's air is not known."), f" {asked}"], className="lead", id="glueup-room"
        )
    temp = f", {climate.temp_c:g} °C" if climate.temp_c is not None else ""
    read = f", read {moment(climate.at, zone)}" if climate.at else ""
    return html.P(
        [html.Strong(f"Room {climate.rh_percent:g} % RH{temp}"), f"{read}. {asked}"],
        className="lead",
        id="glueup-room",
    )


def movement(moved: Sequence[Moved], shop: Shop) -> Component:
    """Each size now, what it becomes at the plan's reference humidity, and the humidity it stays fit in."""
    head = html.Tr(
        [
            html.Th("Size", scope="col"),
            html.Th("Read", scope="col", className="number"),
            html.Th("In air of", scope="col", className="number wide-only"),
            html.Th("Moves", scope="col", className="number wide-only"),
            html.Th(f"At {moved[0].to_rh:g} % RH", scope="col", className="number"),
            html.Th("In tolerance", scope="col"),
        ]
    )
    return html.Table(
        [html.Thead(head), html.Tbody([_moved(item, shop) for item in moved])], className="movement"
    )


def _moved(item: Moved, shop: Shop) -> html.Tr:
    window = "at no humidity" if item.window is None else f"{item.window[0]:.0f} to {item.window[1]:.0f} % RH"
    there = "" if item.within or item.window is None else html.Strong(", so not there")
    return html.Tr(
        [
            html.Th(plain(f"{item.characteristic} {item.station}".strip()), scope="row"),
            html.Td(amount(item.size, "mm", shop.unit), className="number"),
            html.Td(f"{item.rh:g} % RH", className="number wide-only"),
            html.Td(signed(item.moved, "mm", shop.unit), className="number wide-only"),
            html.Td(amount(item.size + item.moved, "mm", shop.unit), className="number"),
            html.Td([window, there]),
        ]
    )


def untold(gate: Gate, part: Part) -> Component | None:
    """What no theory tells."""
    said = spoken(f"{say_unpredicted(gate.unpredicted)}.", names_of(part))
    return html.P(said, className="aside") if gate.unpredicted else None


def clamped(changes: Sequence[Clamped], part: Part, shop: Shop) -> Component:
    """What clamping moved, place by place."""
    told = [
        say_clamped(item.before, item.after, item.reach, item.characteristic, item.unit, shop.unit)
        for item in changes
    ]
    names = names_of(part)
    return html.Ul([html.Li(f"{spoken(text, names)}.") for text in told], className="reasons")


def kept(events: Sequence[BenchEvent], part: Part, zone: dt.tzinfo) -> Component:
    """Glue-ups and overrides of a part, the newest first; they stay for ever."""
    return html.Ol([_kept(item, part, zone) for item in reversed(events)], className="kept-events")


def _kept(item: BenchEvent, part: Part, zone: dt.tzinfo) -> html.Li:
    by = f", {item.by}" if item.by else ""
    head = html.Div(
        [
            html.Strong("Glued up" if item.kind == "glue-up" else "Gate overridden"),
            f" {moment(item.at, zone)}{by}",
        ]
    )
    if item.kind == "override":
        against = [spoken(why, names_of(part)) for why in overrode(item)]
        return html.Li(
            [
                head,
                html.Blockquote(item.text),
                html.Ul([html.Li(why) for why in against], className="notes") if against else None,
            ]
        )
    told = [html.Div([html.Dt(name), html.Dd(text)]) for name, text in glue_words(item)]
    return html.Li(
        [head, html.Dl(told, className="facts"), html.Blockquote(item.text) if item.text else None]
    )
