"""What stands around a reading on the Bench page: keys as buttons, the instrument, the demo's button."""

from __future__ import annotations

from typing import TYPE_CHECKING

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard.aria import aria, data
from dashboard.bench.asked import PATH, TYPED_ONLY, bench_of
from dashboard.shell import mover
from qa.bench.acts import KEYS
from qa.bench.at_bench import Chosen

if TYPE_CHECKING:
    from qa.shop import Shop


def keys() -> Component:
    """Every key as a button too, for a finger."""
    return html.Ul(
        [
            html.Li(
                html.Button(
                    [html.Kbd(key), html.Span(f" {what}")],
                    type="button",
                    className="bench-button",
                    **data(act=key),
                )
            )
            for key, what in KEYS.items()
        ],
        className="bench-keys",
        **aria(label="Keys, while the field is empty"),
    )


def make_believe() -> Component:
    return html.Div(
        [
            html.Button(
                "Press the make-believe caliper's data button",
                type="button",
                id="bench-press",
                className="bench-button is-large",
                **data(act="press"),
            ),
            html.Span(
                "Invented: no such caliper exists; what it sends is made up, over a real serial line.",
                className="quiet",
            ),
        ],
        className="bench-invented",
    )


def this_bench(shop: Shop, at: Chosen) -> Component:
    """What is read with, where, and what is heard; each is remembered."""
    options = [{"value": TYPED_ONLY, "label": "typed, no instrument named"}]
    options += [{"value": name, "label": name} for name in shop.instruments]
    return html.Section(
        [
            html.H2("This bench"),
            html.Div(
                [
                    dmc.Select(
                        id="bench-by",
                        label="Read with",
                        data=options,
                        value=at.instrument or TYPED_ONLY,
                        allowDeselect=False,
                    ),
                    dmc.TextInput(
                        id="bench-name",
                        label="Bench, kept with each reading",
                        value=at.bench,
                        debounce=True,
                    ),
                    _switch("sound", "Sound and vibration"),
                    _switch("speech", "Spoken verdict"),
                    html.P("Sound begins with the first key or tap.", id="bench-sound-asleep", hidden=True),
                    mover(),
                ],
                className="choice",
            ),
            html.P(
                [
                    dcc.Link("Another part", href=bench_of(at.build)),
                    dcc.Link("Another build", href=PATH),
                ],
                className="bench-others",
            ),
        ],
        className="bench-settings",
    )


def _switch(name: str, words: str) -> html.Button:
    return html.Button(
        words,
        type="button",
        className="bench-button bench-switch",
        **data(switch=name),
        **aria(pressed="false"),
    )
