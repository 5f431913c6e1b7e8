"""A part of a page that no callback touches, handed to the browser as text.

The page's framework wraps every component it draws; a table of thousands of them takes it half a second, the
same table as text a tenth of that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

RENAMED = {"className": "class", "htmlFor": "for"}
UNTOLD = ("children", "refresh", "n_clicks", "n_clicks_timestamp")


def still(item: object, **more: Any) -> html.Div:
    """An element that shows a component, or several, as text; its links load nothing anew.

    ValueError for what only the framework can draw.
    """
    return html.Div(**{"data-still": markup(item)}, **more)


def markup(item: object) -> str:
    """A component with all that is in it as HTML, its text escaped."""
    if item is None:
        return ""
    if isinstance(item, Component):
        name = "a" if isinstance(item, dcc.Link) else _tag(item)
        return f"<{name}{''.join(_attributes(item))}>{markup(getattr(item, 'children', None))}</{name}>"
    if isinstance(item, Sequence) and not isinstance(item, str):
        return "".join(markup(each) for each in item)
    return escape(str(item))


def _tag(component: Component) -> str:
    if component._namespace != "dash_html_components":
        raise ValueError(f"{component._type} is drawn by the framework alone: leave it a component")
    return str(component._type).lower()


def _attributes(component: Component) -> Iterator[str]:
    told = component.to_plotly_json()["props"]
    for name, value in told.items():
        if name in UNTOLD or value is None or value is False:
            continue
        if isinstance(value, dict):
            raise ValueError(f"{component._type} has {name} of several values: leave it a component")
        yield f' {RENAMED.get(name, name.lower())}="{escape("" if value is True else str(value))}"'
