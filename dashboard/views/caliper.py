"""Instruments as a page shows them: their standing, what a check found, and what that leaves in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import build_at
from dashboard.aria import aria
from dashboard.marks import marked
from dashboard.views.still import still
from dashboard.words import amount, fine, moment, plain, signed
from qa.calipers.check_words import NOT_REWRITTEN, say_again, say_bias, say_check, say_point
from qa.calipers.doubts import worst_first
from qa.calipers.study_words import say_studies
from qa.calipers.words import component_table, say

if TYPE_CHECKING:
    from qa.calipers.check import Changed, Rejudged
    from qa.calipers.standing import Check, Trust
    from qa.calipers.study import Study
    from qa.instruments import Instrument
    from qa.repeatability import CrossedStudy
    from qa.shop import Shop

MARK_OF: dict[Trust, str] = {
    "good": "conforms",
    "failed": "does-not-conform",
    "overdue": "undecided",
    "never checked": "not-measured",
}
SHOWN = 6


def trust_word(trust: Trust) -> html.Span:
    """An instrument's standing as a shape and a word."""
    shape = html.Span(className=f"mark {MARK_OF[trust]}", **aria(hidden="true"))
    return html.Span([shape, html.Span(trust)], className="marked")


def permitted_error(instrument: Instrument, unit: str) -> str:
    """The permissible error, with a decimal more where it is finer than a reading."""
    error = instrument.max_permissible_error
    return amount(
        error, instrument.unit, unit, None if round(error, 2) == error else fine(instrument.unit, unit)
    )


def points_table(instrument: Instrument, check: Check, unit: str) -> html.Table:
    """What it showed at each known size."""
    own, permitted = instrument.unit, permitted_error(instrument, unit)
    head = html.Tr(
        [
            html.Th("Known size", scope="col", className="number"),
            html.Th("It showed", scope="col", className="number"),
            html.Th("Error", scope="col", className="number"),
            html.Th(f"Permitted ± {permitted}", scope="col"),
        ]
    )
    rows = [
        html.Tr(
            [
                html.Th(amount(p.reference, own, unit), scope="row", className="number"),
                html.Td(amount(p.reading, own, unit), className="number"),
                html.Td(signed(p.error, own, unit), className="number"),
                html.Td(say_point(p, instrument)),
            ]
        )
        for p in check.points
    ]
    return html.Table([html.Thead(head), html.Tbody(rows)], className="points")


def studies(instrument: Instrument, unit: str) -> list[Component]:
    """How it repeats on the woods it was studied on."""
    return [html.P(line) for line in say_studies(instrument, unit)]


def study(made: Study, tolerance: float | None) -> list[Component]:
    """A study in sentences, and a crossed one's components in a table."""
    notes = [html.P(f"Note: {note}.", className="aside") for note in made.notes]
    table = [] if made.crossed is None else [_components(made.crossed)]
    return [*(html.P(line) for line in say(made, tolerance)), *notes, *table]


def _components(crossed: CrossedStudy) -> html.Table:
    wide = {"of variance", "at 95 %"}
    (first, *others), *cells_of = component_table(crossed)
    classes = ["number wide-only" if name in wide else "number" for name in others]
    head = [html.Th(name, scope="col", className=kind) for name, kind in zip(others, classes, strict=True)]
    rows = [
        html.Tr(
            [
                html.Th(name, scope="row"),
                *(html.Td(cell, className=kind) for cell, kind in zip(cells, classes, strict=True)),
            ]
        )
        for name, *cells in cells_of
    ]
    return html.Table(
        [html.Thead(html.Tr([html.Th(first, scope="col"), *head])), html.Tbody(rows)], className="points"
    )


def found(instrument: Instrument, check: Check, unit: str) -> list[Component]:
    """A check in a table and in sentences."""
    return [
        html.P(say_check(instrument, check), className="lead"),
        points_table(instrument, check, unit),
        *(html.P(line) for line in say_bias(instrument, check, unit)),
    ]


def doubt(check: Check, again: Rejudged, shop: Shop) -> html.Div:
    """What one failed check throws doubt on, and the verdicts that would change."""
    rows = worst_first(again.changed)
    return html.Div(
        [
            html.H3(f"The check of {moment(check.at, shop.zone())} throws doubt on readings"),
            *(html.P(line) for line in say_again(again)),
            *_changes(rows, shop.unit),
            html.P(NOT_REWRITTEN, className="aside"),
        ],
        className="doubt",
    )


def _changes(rows: Sequence[Changed], unit: str) -> list[Component]:
    if not rows:
        return []
    if len(rows) <= SHOWN + 2:
        return [_table(rows, unit)]
    rest = html.Details(
        [html.Summary(f"{len(rows) - SHOWN} more verdicts"), _table(rows[SHOWN:], unit)], className="more"
    )
    return [_table(rows[:SHOWN], unit), rest]


def _table(rows: Sequence[Changed], unit: str) -> html.Div:
    head = html.Tr(
        [
            html.Th("Build", scope="col"),
            html.Th("Where", scope="col"),
            html.Th("Read", scope="col", className="number wide-only"),
            html.Th("Was", scope="col"),
            html.Th("Without its error", scope="col", className="number wide-only"),
            html.Th("Is then", scope="col"),
        ]
    )
    body = html.Tbody([_row(item, unit) for item in rows])
    return still(html.Table([html.Thead(head), body], className="changes"))


def _row(item: Changed, unit: str) -> html.Tr:
    where = plain(" ".join(word for word in (item.part, item.characteristic, item.station) if word))
    return html.Tr(
        [
            html.Th(dcc.Link(item.build, href=f"{build_at(item.build)}#{item.part}"), scope="row"),
            html.Td(where),
            html.Td(amount(item.value, item.unit, unit), className="number wide-only"),
            html.Td(marked(item.before)),
            html.Td(amount(item.corrected, item.unit, unit), className="number wide-only"),
            html.Td(marked(item.after)),
        ]
    )
