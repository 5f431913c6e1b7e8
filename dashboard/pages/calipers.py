"""Calipers: whether each may be believed, what it can prove, and what a failed one leaves in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import check_at, study_at
from dashboard.desk import Desk
from dashboard.page import Page, Query
from dashboard.views import caliper as view
from dashboard.words import amount, listed, moment, signed

if TYPE_CHECKING:
    import datetime as dt

    from qa.calipers.check import Rejudged
    from qa.calipers.standing import Check
    from qa.calipers.status import Standing
    from qa.shop import Shop


def content(desk: Desk, query: Query) -> Component:
    """Every instrument of shop.toml, those first that need something done."""
    from qa.calipers.doubts import doubts
    from qa.calipers.status import standings

    shop, store = desk.shop(query.get("unit")), desk.store()
    found = sorted(standings(shop, store), key=lambda item: item.state.believed)
    if not found:
        return html.Div([html.H1("Calipers"), _none(shop)])
    return html.Div(
        [
            html.H1("Calipers"),
            html.P(_in_short(found), className="lead"),
            *(_instrument(item, doubts(shop, store, item.instrument), shop) for item in found),
        ]
    )


def _none(shop: Shop) -> Component:
    return html.Div(
        [
            html.P(f"{shop.name} has no instrument yet.", className="lead"),
            html.P("Describe yours in shop.toml, and it appears here:"),
            html.Pre("[instruments.caliper-1]\nresolution = 0.01\nmax_permissible_error = 0.03"),
        ],
        className="notice",
    )


def _in_short(found: Sequence[Standing]) -> str:
    doubted = [item for item in found if not item.state.believed]
    if not doubted:
        return "Every instrument may be believed."
    names = listed([f"{item.instrument.id} ({item.state.trust})" for item in doubted])
    return f"Not to be judged by before a check: {names}. No gate opens on their readings."


def _instrument(item: Standing, doubted: Sequence[tuple[Check, Rejudged]], shop: Shop) -> html.Section:
    instrument, state = item.instrument, item.state
    facts = [html.Div([html.Dt(name), html.Dd(text)]) for name, text in _facts(item, shop)]
    kind = "do" if not state.believed else "do quiet-do"
    ways = [dcc.Link("Check it", href=check_at(instrument.id), className=kind)]
    if instrument.quantity == "length":
        ways.append(dcc.Link("Study its repeats", href=study_at(instrument.id), className="do quiet-do"))
    return html.Section(
        [
            html.H2([instrument.id, " ", view.trust_word(state.trust)], id=instrument.id, tabIndex=-1),
            html.Dl(facts, className="facts"),
            *view.studies(instrument, shop.unit),
            html.Div(ways, className="steps"),
            _last_check(item, item.check, shop) if item.check else None,
            *(view.doubt(check, again, shop) for check, again in doubted),
        ],
        className="instrument",
    )


def _facts(item: Standing, shop: Shop) -> list[tuple[str, str]]:
    instrument, state, zone = item.instrument, item.state, shop.zone()
    own, unit = instrument.unit, shop.unit
    permitted = view.permitted_error(instrument, unit)
    error = f"never told; permitted ± {permitted}"
    if state.error is not None and state.checked_at:
        error = (
            f"{signed(state.error, own, unit)} on {moment(state.checked_at, zone)}; permitted ± {permitted}"
        )
    told = [("largest error", error)]
    if state.due:
        told.append(("next check", f"{'was ' if state.trust == 'overdue' else ''}due {state.due}"))
    elif state.owed:
        told.append(("next check", f"now: it {state.owed}"))
    repeats = (
        f"{amount(2 * instrument.repeatability, own, unit)}, two standard deviations, {_source(item, zone)}"
    )
    return [
        *told,
        ("repeats to", repeats),
        ("can prove", f"a tolerance of ± {amount(item.provable, own, unit)} or wider, from one reading"),
        ("keep off limits", f"by {amount(item.guard, own, unit)}, to conform at 95 %"),
    ]


def _source(item: Standing, zone: dt.tzinfo) -> str:
    if not item.studied.at:
        return "as shop.toml says"
    wood = f" on {item.studied.species}, the largest of its studies" if item.studied.species else ""
    return f"by its study of {moment(item.studied.at, zone)[:10]}{wood}"


def _last_check(item: Standing, check: Check, shop: Shop) -> html.Details:
    summary = f"Its last check, {check.state}, {moment(check.at, shop.zone())}"
    return html.Details(
        [html.Summary(summary), *view.found(item.instrument, check, shop.unit)], className="more"
    )


PAGE = Page("calipers", "/calipers", "Calipers", content, label="Calipers")
