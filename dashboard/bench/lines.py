"""What the Bench page says of its instrument: on the line or not, heard when, reading which part."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.aria import data
from dashboard.bench.asked import bench_of
from dashboard.words import plain
from qa.bench.at_bench import Chosen, chosen, unplaced

if TYPE_CHECKING:
    from dashboard.desk import Desk
    from dashboard.hearing import Standing
    from qa.record import BenchEvent
    from qa.shop import Shop

SAID = {
    "opening": "opening the line",
    "open": "on the line",
    "lost": "LOST",
    "waiting": "NOT ON THE LINE",
    "unusable": "CANNOT BE HEARD",
    "closed": "line closed",
}
MOST_HEARD = 8


def instrument_line(desk: Desk, shop: Shop, at: Chosen) -> list[Component]:
    """The state of the instrument in one line, and what stands in its way."""
    return [*_instrument(desk, shop, at), *kept_here(desk)]


def kept_here(desk: Desk) -> list[Component]:
    """That the store's server is gone, and how many readings wait for it."""
    kept = desk.bench_store().kept_here()
    return [html.Div(kept, className="bench-trouble", role="status")] if kept else []


def _instrument(desk: Desk, shop: Shop, at: Chosen) -> list[Component]:
    if not at.instrument:
        return [_dot("typed"), html.Span("Readings are typed, no instrument named")]
    if shop.instrument_or_typed(at.instrument).url is None:
        return [_dot("typed"), html.Span([html.Strong(at.instrument), ", typed or as a keyboard"])]
    standing = desk.hearing.standing(at.instrument) if desk.hearing else None
    if standing is None:
        return [_dot("closed"), html.Span([html.Strong(at.instrument), " is not listened to yet"])]
    return [_dot(standing.line), *_on_line(at.instrument, standing)]


def _dot(line: str) -> html.Span:
    return html.Span(className=f"bench-dot is-{line}")


def _on_line(name: str, standing: Standing) -> list[Component]:
    heard = "nothing heard yet" if standing.heard is None else "last heard "
    told: list[Component] = [
        html.Span(
            [
                html.Strong(name),
                f" {SAID[standing.line]}, {heard}",
                html.Span(id="bench-age"),
            ]
        )
    ]
    if standing.line in ("lost", "waiting", "unusable"):
        end = "" if standing.why.endswith("?") else "."
        told.append(html.Span(f"{standing.why}{end} Tried again by itself.", className="bench-trouble"))
    if standing.unkept:
        told.append(html.Span(standing.unkept, className="bench-trouble"))
    if standing.bad:
        raw, why = standing.last_bad
        count = (
            f"{standing.bad} records not understood, the last: " if standing.bad > 1 else "Not understood: "
        )
        told.append(html.Span([count, html.Code(raw), f" {why}"], className="bench-trouble"))
    return told


def elsewhere(desk: Desk, shop: Shop, at: Chosen) -> list[Component]:
    """That the instrument reads another part, where it does, and a button to have it here."""
    if shop.instrument_or_typed(at.instrument).url is None:
        return []
    now = chosen(desk.bench_store(), at.instrument)
    if now is not None and (now.build, now.part) == (at.build, at.part):
        return []
    where = f"now reads {plain(now.part)} of {now.build}" if now else "reads no part now"
    return [
        html.Span(f"{at.instrument} {where}. "),
        html.Button("Read here", type="button", className="bench-button", **data(act="choose")),
    ]


def waits(desk: Desk) -> list[Component | None]:
    """What is to be known before a part is chosen: that the server is gone, what belongs nowhere."""
    return [*kept_here(desk), *heard_nowhere(desk)]


def heard_nowhere(desk: Desk, place: str = "") -> list[Component | None]:
    """The readings that belong nowhere yet, each with its raw text; `place` is where one could be taken."""
    found = unplaced(desk.bench_store())
    if not found:
        return []
    more = len(found) - MOST_HEARD
    return [
        html.H2("Heard, belongs nowhere"),
        html.P(
            "These were sent while no part was chosen, or had no place there. Nothing is lost: "
            + ("take one as the next reading, or let it go." if place else "choose a part, then take them."),
        ),
        html.Ul([_heard(item, place) for item in found[-MOST_HEARD:]], className="bench-heard"),
        html.P(f"and {more} older ones", className="quiet") if more > 0 else None,
    ]


def _heard(item: BenchEvent, place: str) -> html.Li:
    body = item.body
    why = f" {body['why']}" if body.get("why") else ""
    buttons = [_settle("Let it go", "let-go", item.sequence)]
    if place:
        buttons.insert(0, _settle(f"Take as {plain(place)}", "take-heard", item.sequence))
    told: list[Component | str] = [
        html.Strong(item.text),
        f" by {item.instrument} at {item.at[11:19]} UTC on {item.at[:10]}, as sent: ",
        html.Code(str(body.get("raw", ""))),
        why,
    ]
    return html.Li([html.Span(told), html.Span(buttons, className="bench-buttons")])


def _settle(words: str, act: str, of: int) -> html.Button:
    return html.Button(words, type="button", className="bench-button", **data(act=act, of=str(of)))


def recent_links(parts: Sequence[Chosen], titles: dict[tuple[str, str], str]) -> html.Ul:
    """Links to go on where a bench was."""
    return html.Ul(
        [
            html.Li(
                dcc.Link(
                    [html.Strong(item.build), f" {titles.get((item.build, item.part), plain(item.part))}"],
                    href=bench_of(
                        item.build, item.part, by=item.instrument, model=item.model, bench=item.bench
                    ),
                )
            )
            for item in parts
        ],
        className="bench-links",
    )
