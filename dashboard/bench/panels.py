"""What the Bench page shows of one part: where to read next, the last reading, what to take off."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from dash import html
from dash.development.base_component import Component

from dashboard.aria import aria, data
from dashboard.marks import MARKS, mark, marked
from dashboard.words import amount, names_judged, plain, signed, spoken
from qa.bench.capture import Place
from qa.bench.speech import HELD, say_reading, to_go
from qa.bench.view import BenchView
from qa.characteristics.base import MILLION
from qa.conformity import Verdict
from qa.judge import Judged

if TYPE_CHECKING:
    from qa.record import BenchReading
    from qa.shop import Shop


def next_place(view: BenchView, shop: Shop) -> list[Component]:
    """Where to read next, what it should be there, and how far the part is."""
    turn = f"pass {view.turn}, " if view.turn > 1 else ""
    again = " again" if view.again else ""
    return [
        html.P(
            [html.Span(f"Read{again} ", className="quiet"), html.Strong(plain(view.place.name))],
            className="bench-place",
        ),
        html.P(
            [
                html.Span(_asked(view.place, shop.unit)),
                html.Span(f"{turn}{view.done} of {view.due} places read", className="quiet bench-count"),
            ],
            className="bench-limits",
        ),
    ]


def _asked(place: Place, unit: str) -> str:
    item = place.characteristic
    told = say_reading(item, unit)
    if told:
        return told[:1].upper() + told[1:]
    target, low, high = (
        None if n is None else amount(n / MILLION, item.unit, unit)
        for n in (item.target, item.lower, item.upper)
    )
    words = [f"target {target}"] if target else []
    if low and high:
        words.append(f"{low.partition(' ')[0]} to {high} conforms")
    elif low or high:
        words.append(f"at least {low} conforms" if low else f"at most {high} conforms")
    return ", ".join(words).capitalize()


def last_reading(view: BenchView, shop: Shop) -> list[Component | None]:
    """The last reading large enough to be read from afar, its verdict, and what to do."""
    if view.last is None:
        return [
            html.P("Nothing read yet", className="bench-empty"),
            html.P("The first reading shows here, with its verdict.", className="quiet"),
        ]
    number, unit = split(amount(view.last.value, view.last.unit, shop.unit))
    name = f"{view.last.characteristic} {view.last.station}".strip()
    return [
        html.P(
            [html.Span(plain(name)), html.Span(when(view.last, shop), className="bench-when")],
            className="bench-what",
        ),
        html.P(
            [number, html.Span(f" {unit}", className="bench-unit")],
            className=f"bench-number{' is-old' if view.overtaken else ''}",
            id="bench-number",
            style={"--letters": str(len(number))},
        ),
        *(_doubted(view) if view.held else _verdict(view, shop)),
        html.P(f"{view.last.note[:1].upper()}{view.last.note[1:]}.", className="bench-more")
        if view.last.note
        else None,
    ]


def fresh_reading() -> Component:
    """Where the browser writes a reading just told of, until it is drawn as the last one."""
    return html.Div(
        [
            html.P([html.Span(), html.Span(className="bench-when")], className="bench-what"),
            html.P([html.Span(), html.Span(className="bench-unit")], className="bench-number"),
        ],
        id="bench-fresh",
        hidden=True,
    )


def split(text: str) -> tuple[str, str]:
    if text.endswith("°"):
        return text[:-1], "°"
    number, _, unit = text.partition(" ")
    return number, unit


def when(row: BenchReading, shop: Shop) -> str:
    taken = dt.datetime.fromisoformat(row.taken_at).astimezone(shop.zone())
    today = dt.datetime.now(shop.zone()).date()
    return f"{taken:%H:%M:%S}" if taken.date() == today else f"{taken:%d %B %Y}".lstrip("0")


def _doubted(view: BenchView) -> list[Component | None]:
    why = view.last.suspect if view.last else ""
    accept = [html.Kbd("a"), " accept it as read"]
    return [
        html.P(
            [html.Span(className="mark doubted", **aria(hidden="true")), html.Span("doubted")],
            className="bench-verdict",
        ),
        html.P(f"It {why}", className="bench-do"),
        html.P(f"{HELD}:", className="bench-more"),
        html.P(
            html.Button(accept, type="button", className="bench-button", **data(act="a")),
            className="bench-do",
        ),
    ]


def _verdict(view: BenchView, shop: Shop) -> list[Component | None]:
    if view.overtaken:
        return [html.P("Planed since: read it again.", className="bench-do")]
    if view.judged is None:
        return [html.P("Stored.", className="bench-do")]
    item = view.judged
    found: list[Component | None] = [
        html.P([mark(item.verdict), html.Span(str(item.verdict))], className="bench-verdict"),
        html.P(_deviation(item, shop.unit), className="bench-more"),
    ]
    if view.shape:
        found.append(html.Ul([_shape(each, shop.unit) for each in view.shape], className="bench-shape"))
    if view.advice:
        first, stop, more = spoken(view.advice, names_judged(view.part)).partition(". ")
        found.append(html.P(f"{first}{stop.strip()}", className="bench-do"))
        found.append(html.P(more, className="bench-more") if more else None)
    return found


def _deviation(item: Judged, unit: str) -> str:
    words = []
    if item.deviation is not None and item.target:
        words.append(f"{signed(item.deviation, item.unit, unit)} from target")
    elif item.value is not None:
        words.append(f"{plain(item.characteristic)} {signed(item.value, item.unit, unit)}")
    words += [text for text in (to_go(item, unit), "" if item.value is not None else item.why) if text]
    return ", ".join(words)


def _shape(item: Judged, unit: str) -> html.Li:
    name = " ".join(plain(word) for word in (item.characteristic, item.station or "") if word)
    shown = signed if item.target in (None, 0.0) else amount
    words = [f"{name} {shown(item.value, item.unit, unit)}", str(item.verdict)]
    going = to_go(item, unit) if item.verdict == Verdict.DOES_NOT_CONFORM else ""
    return html.Li(marked(item.verdict, ", ".join([*words, going] if going else words)))


def part_words(view: BenchView) -> Component:
    """Whether the part is fit as a whole."""
    fit = view.part.verdict
    return html.P(
        [html.Span("Whole part ", className="quiet"), marked(fit)],
        className=f"bench-whole {MARKS[fit].name}",
    )
