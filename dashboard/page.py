"""What a page is: its address, and content as a function of the shop and of the address's query."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from dash import Dash
from dash.development.base_component import Component

from dashboard.desk import Desk

Query: TypeAlias = Mapping[str, str]
"""What the address says: the named pieces of its path, and its query, as text."""


@dataclass(frozen=True, slots=True)
class Page:
    """One page of the dashboard.

    `content(desk, query)` draws it; whatever a person chooses belongs into the address, so that a page can be
    bookmarked and the back button works. A QaError it raises is shown in its place. A `live` page is drawn
    again whenever something is stored or a plan changes; one that holds what a person is typing is not, and
    listens to `store-position` by callbacks of its own. `query["unit"]` is the unit lengths are shown in, for
    `desk.shop(unit)`; a callback that draws takes it from State(UNIT, "data") of the shell.
    `path` may name pieces: "/build/<build>". `label` is its name in the navigation; "" keeps it out.
    `register(app, desk)` adds its callbacks.
    """

    name: str
    path: str
    title: str
    content: Callable[[Desk, Query], Component]
    label: str = ""
    live: bool = True
    register: Callable[[Dash, Desk], None] | None = None
