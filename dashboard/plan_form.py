"""The form that changes one part of a plan: a field for every amount, with its problem beside it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboard.forms import button, field, one_of, row
from dashboard.words import counted, plain

if TYPE_CHECKING:
    from qa.errors import PlanProblem
    from qa.plans.edit import PlanField

KIND = "plan-field"
IN_PLACE, REVISION = "in place", "revision"
PAIRS = {"tolerance": ("below", "above"), "mean_tolerance": ("below", "above")}


def form(fields: Sequence[PlanField], unit: str, builds: int, today: dt.date) -> Component:
    """Every field of a part as the file has it; `builds` are judged by the plan now."""
    words = [item for item in fields if len(item.path) == 3]
    amounts = [item for item in fields if len(item.path) > 3]
    groups = [_group(name, list(items)) for name, items in groupby(amounts, lambda item: item.path[3])]
    return html.Div(
        [
            row([_field(item, plain(item.path[-1])) for item in words], "Part"),
            html.P(
                f"Lengths are in {unit}, or carry a unit of their own: 1 1/4 in, 31.75 mm.", className="aside"
            ),
            *groups,
            html.H2("How to save it"),
            one_of("plan-how", "Save", _ways(builds), IN_PLACE),
            dmc.DateInput(
                id="plan-since",
                label="For builds begun from",
                value=today.isoformat(),
                valueFormat="YYYY-MM-DD",
                description="only for a new revision",
                w=260,
            ),
            button("plan-save", "Save the plan"),
        ],
        id="plan-form",
        className="form",
    )


def _ways(builds: int) -> dict[str, str]:
    judged = f"{counted(builds, 'build is', 'builds are')} judged by it, and will be judged anew"
    return {
        IN_PLACE: f"Change this plan: {judged if builds else 'no build is judged by it yet'}",
        REVISION: "A new revision beside it: builds begun earlier keep this one",
    }


def _group(characteristic: str, fields: Sequence[PlanField]) -> html.Fieldset:
    plain_ones = [item for item in fields if "stations" not in item.path]
    stations = [item for item in fields if "stations" in item.path]
    return html.Fieldset(
        [
            html.Legend(plain(characteristic)),
            row([_field(item, _label(item)) for item in plain_ones]) if plain_ones else None,
            _stations(characteristic, stations) if stations else None,
        ]
    )


def _label(item: PlanField) -> str:
    name = plain(item.path[-1].replace("_", " "))
    if item.index is None:
        return name
    ends = PAIRS.get(item.path[-1], ("first", "second", "third"))
    return f"{name}, {ends[item.index]}"


def _stations(characteristic: str, fields: Iterable[PlanField]) -> html.Div:
    places = [
        row(
            [_field(item, f"{plain(name)} {'xy'[item.index or 0]}") for item in items],
            f"{characteristic} {name}",
        )
        for name, items in groupby(fields, lambda item: item.path[-1])
    ]
    return html.Div(
        [html.P("Stations: x across and y along the face", className="aside"), *places], className="stations"
    )


def _field(item: PlanField, label: str) -> Component:
    return field({KIND: item.id}, label, item.text)


def placed(problems: Iterable[PlanProblem], ids: Sequence[str]) -> tuple[dict[str, str], list[str]]:
    """Problems by the id of the field they are about, and those about none of them, in words."""
    beside: dict[str, str] = {}
    others: list[str] = []
    for problem in problems:
        place = next((name for name in ids if _about(problem.key, name)), None)
        if place is None:
            others.append(f"{problem.key}: {problem.why}" if problem.key else problem.why)
        else:
            beside[place] = f"{beside[place]}; {problem.why}" if place in beside else problem.why
    return beside, others


def _about(key: str, field_id: str) -> bool:
    named = field_id.partition("#")[0]
    return bool(key) and (named == key or named.startswith(f"{key}."))


def changes(fields: Sequence[PlanField], typed: Mapping[str, str]) -> list[Component]:
    """What was changed, place by place."""
    return [
        html.Li(f"{_where(item)}: {item.text or 'blank'} to {typed[item.id].strip() or 'blank'}")
        for item in fields
        if typed[item.id].strip() != item.text
    ]


def _where(item: PlanField) -> str:
    names = [name for name in item.path[2:] if name not in ("characteristics", "stations")]
    suffix = (
        ""
        if item.index is None
        else f" {'xy'[item.index]}"
        if "stations" in item.path
        else f" {item.index + 1}"
    )
    return plain(" ".join(names)) + suffix
