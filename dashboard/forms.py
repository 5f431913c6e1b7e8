"""Fields and buttons of the pages that are typed into, each with its name, hint and error beside it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from qa.errors import QaError, ShopError

NUMBER = re.compile(r"[+\N{MINUS SIGN}-]?[0-9]{1,9}([.,][0-9]{1,9})?")
INPUT_FIRST = {"inputWrapperOrder": ["label", "input", "description", "error"]}
"""Fields side by side keep their inputs in line, whichever of them have a hint."""


def field(
    name: str | Mapping[str, Any],
    label: str,
    value: str = "",
    hint: str = "",
    needed: bool = False,
    **options: Any,
) -> dmc.TextInput:
    """One line of text, handed over as the field is left, so before the click that follows."""
    return dmc.TextInput(
        id=name,
        label=label,
        value=value,
        description=hint or None,
        required=needed,
        debounce=True,
        **INPUT_FIRST,
        **options,
    )


def number(name: str, label: str, value: float | None = None, hint: str = "") -> dmc.TextInput:
    """A number as `as_number` reads it: kept as typed or pasted, with the number keys of a telephone."""
    text = "" if value is None else f"{value:.10g}"
    return field(name, label, text, hint, inputProps={"inputMode": "decimal"})


def lines(name: str, label: str, hint: str = "", rows: int = 2, **options: Any) -> dmc.Textarea:
    """Several lines of text, handed over as a `field` is."""
    return dmc.Textarea(
        id=name,
        label=label,
        value="",
        description=hint or None,
        minRows=rows,
        autosize=True,
        debounce=True,
        **INPUT_FIRST,
        **options,
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
        **INPUT_FIRST,
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


def refusal(error: QaError | str, *more: Component) -> html.Div:
    """Why nothing was kept, and `more` that helps, read out at once."""
    told = [html.P(line) for line in str(error).splitlines()]
    return html.Div([*told, *more], className="notice problem", role="alert")


def done(*children: Component | str) -> html.Div:
    """What was kept, read out."""
    return html.Div(list(children), className="notice kept", role="status", tabIndex=-1)


def answers(name: str, **options: Any) -> html.Div:
    """Where the answer to a step appears; it then gets the focus."""
    return html.Div(id=name, **{"data-answers": "true"}, **options)


def as_number(typed: str | None, what: str) -> float | None:
    """A number as typed, a comma or a point before its decimals; None where it is blank.

    ShopError names `what` should have been a number.
    """
    text = (typed or "").strip()
    if not text:
        return None
    if not NUMBER.fullmatch(text):
        raise ShopError(f"{what}: cannot read {text!r}; type a number such as 21.5 or 21,5")
    return float(text.replace(",", ".").replace("\N{MINUS SIGN}", "-"))


def as_amount(typed: str | None, what: str) -> float | None:
    """As `as_number`, of what is never below zero."""
    found = as_number(typed, what)
    if found is not None and found < 0:
        raise ShopError(f"{what}: cannot be below zero, got {found:g}")
    return found
