"""A still part of a page says in HTML what its components say, and nothing a person typed becomes markup."""

from __future__ import annotations

import pytest
from dash import dcc, html

from dashboard.views.still import markup, still


def test_components_become_the_html_they_would_be_drawn_as():
    """Names of attributes, links, what is unset, and text in between."""
    row = html.Tr([html.Th("A", scope="col", colSpan=2, className="part"), None, html.Td(3, tabIndex=-1)])
    link = dcc.Link(["to ", html.B("B")], href="/drift?part=a&station=b")

    assert markup(row) == ('<tr><th class="part" colspan="2" scope="col">A</th><td tabindex="-1">3</td></tr>')
    assert markup(link) == '<a href="/drift?part=a&amp;station=b">to <b>B</b></a>'
    assert markup(html.Span("x", hidden=True, **{"aria-hidden": "true"})) == (
        '<span hidden="" aria-hidden="true">x</span>'
    )


def test_what_was_typed_stays_text():
    """In words and in attributes."""
    typed = '"><script>alert(1)</script>'
    shown = getattr(still(html.Td(html.A(typed, href=typed, title=typed))), "data-still")

    assert "<script" not in shown
    assert shown.count("&quot;&gt;&lt;script&gt;") == 3


@pytest.mark.parametrize("item", [dcc.Graph(), html.Div(dcc.Store(id="a")), html.P(style={"color": "red"})])
def test_what_only_the_framework_can_draw_is_refused(item):
    """It would be missing on the page without a word."""
    with pytest.raises(ValueError, match="leave it a component"):
        markup(item)
