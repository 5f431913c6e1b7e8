"""A part's whole record as a page shows it: every reading and event in the order of time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from dash import html

from dashboard.aria import aria
from dashboard.words import counted, moment, plain

if TYPE_CHECKING:
    from qa.chronicle import Entry
    from qa.shop import Shop


def record(entries: Sequence[Entry], shop: Shop, label: str) -> html.Details | None:
    """Every row, folded away below how many there are; None where there is none."""
    if not entries:
        return None
    return html.Details(
        [html.Summary(f"The record: {_counts(entries)}"), record_table(entries, shop, label)],
        className="more record",
    )


def _counts(entries: Sequence[Entry]) -> str:
    from qa.chronicle import COUNTS

    rows = [item for item in entries if item.standing]
    told = [counted(len(rows), "reading", "readings")] if rows else []
    gone = sum(item.standing != COUNTS for item in rows)
    told += [f"{gone} of them no longer {'counts' if gone == 1 else 'count'}"] if gone else []
    events = len(entries) - len(rows)
    told += [counted(events, "event", "events")] if events else []
    return ", ".join(told)


def record_table(entries: Sequence[Entry], shop: Shop, label: str) -> html.Div:
    """When, where, what, by whom, what it is worth today and why, and the revision in force."""
    head = html.Tr(
        [
            html.Th("When", scope="col"),
            html.Th("Where", scope="col"),
            html.Th("What", scope="col", className="number"),
            html.Th("By", scope="col", className="wide-only"),
            html.Th("Today", scope="col"),
            html.Th("Plan", scope="col", className="wide-only"),
        ]
    )
    table = html.Table([html.Thead(head), html.Tbody([_row(item, shop, shop.zone()) for item in entries])])
    return html.Div(table, className="scroll", role="region", tabIndex=0, **aria(label=label))


def _row(item: Entry, shop: Shop, zone: dt.tzinfo) -> html.Tr:
    from qa.chronicle import COUNTS

    worth = html.Span(item.standing, className="" if item.standing == COUNTS else "worthless")
    remarks = [html.Div(text, className="remark") for text in item.remarks]
    kind = "event" if not item.standing else "doubtful" if item.doubtful else ""
    return html.Tr(
        [
            html.Td(moment(item.at, zone), className="begun"),
            html.Td(plain(item.place) or plain(item.part) or "the whole build"),
            html.Td(item.what, className="number" if item.standing else ""),
            html.Td(item.who or "–", className="wide-only"),
            html.Td([worth, *remarks]),
            html.Td(_revision(item, shop), className="wide-only"),
        ],
        className=kind,
    )


def _revision(item: Entry, shop: Shop) -> str:
    """The plan a reading was stored under, by its file, or by its digest where no file holds it any more."""
    if not item.revision:
        return "–"
    plan = shop.revision(item.revision)
    return plan.name if plan else item.revision[:8]
