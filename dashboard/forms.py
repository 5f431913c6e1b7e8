"""Fields and buttons of the pages that are typed into, each with its name, hint and error beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from qa.errors import QaError


def field(
    name: str | Mapping[str, Any],
    label: str,
    value: str = "",
    hint: str = "",
    needed: bool = False,
    **options: Any,
) -> dmc.TextInput:
    """One line of text."""
    return dmc.TextInput(
        id=name, label=label, value=value, description=hint or None, required=needed, **options
    )


def number(
    name: str, label: str, value: float | None = None, hint: str = "", **options: Any
) -> dmc.NumberInput:
    """A number; a comma or a point before its decimals."""
    return dmc.NumberInput(
        id=name,
        label=label,
        value="" if value is None else value,
        description=hint or None,
        hideControls=True,
        allowedDecimalSeparators=[",", "."],
        allowNegative=False,
        **options,
    )


def lines(name: str, label: str, hint: str = "", rows: int = 2, **options: Any) -> dmc.Textarea:
    """Several lines of text."""
    return dmc.Textarea(
        id=name, label=label, value="", description=hint or None, minRows=rows, autosize=True, **options
    )


def choice(
    name: str | Mapping[str, Any],
    label: str,
    options: Mapping[str, str],
    value: str,
    hint: str = "",
    **more: Any,
) -> dmc.Select:
    """One of several, by name."""
    return dmc.Select(
        id=name,
        label=label,
        data=[{"value": key, "label": text} for key, text in options.items()],
        value=value if value in options else None,
        description=hint or None,
        allowDeselect=False,
        maxDropdownHeight=400,
        **more,
    )


def one_of(name: str, label: str, options: Mapping[str, str], value: str | None) -> dmc.RadioGroup:
    """One of a few, all of them in sight."""
    return dmc.RadioGroup(
        dmc.Group([dmc.Radio(label=text, value=key) for key, text in options.items()]),
        id=name,
        label=label,
        value=value,
    )


def button(name: str, words: str, *, grave: bool = False, quiet: bool = False) -> html.Button:
    """Something to press; a `grave` one cannot be undone, a `quiet` one steps back."""
    kind = "do grave" if grave else "do quiet-do" if quiet else "do"
    return html.Button(words, id=name, type="button", className=kind, n_clicks=0)


def row(fields: Sequence[Component | None], label: str = "") -> html.Div:
    """Fields side by side where there is room."""
    return html.Div([item for item in fields if item is not None], className="fields", **_group(label))


def _group(label: str) -> dict[str, Any]:
    return {"role": "group", "aria-label": label} if label else {}


def refusal(error: QaError | str) -> html.Div:
    """Why nothing was kept, read out at once."""
    told = str(error).splitlines()
    return html.Div([html.P(line) for line in told], className="notice problem", role="alert")


def done(*children: Component | str) -> html.Div:
    """What was kept, read out."""
    return html.Div(list(children), className="notice kept", role="status", tabIndex=-1)


def answers(name: str, **options: Any) -> html.Div:
    """Where the answer to a step appears; it then gets the focus."""
    return html.Div(id=name, **{"data-answers": "true"}, **options)


def as_number(value: object) -> float | None:
    """What a number field holds; None where it is blank."""
    return None if value in (None, "") else float(str(value))
