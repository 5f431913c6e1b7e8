"""The form that changes a plan: a field for every key that reading a plan asks for, problems beside them."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING
from urllib.parse import quote, unquote

from dash import html
from dash.development.base_component import Component

from dashboard.aria import aria
from dashboard.forms import choice, field, row
from dashboard.words import plain

if TYPE_CHECKING:
    from qa.plans.changes import Change
    from qa.plans.edit import PlanField, PlanTable
    from qa.plans.plan import Part, Plan

KIND = "plan-field"
ADD, REMOVE, NEW, NEW_KIND = "plan-add", "plan-remove", "plan-new", "plan-new-kind"
QUIET_FROM = 3
"""Keys that are not set are put out of the way where as many as this are set or needed."""
MANY = 12
HINTS = {
    "tolerance": "plus-minus, or two deviations: -0.10 to 0.20",
    "mean_tolerance": "plus-minus, or two deviations: -0.10 to 0.20",
    "glue_rh_percent": "window for gluing, as 40 to 50",
    "dome_from": "nearest to farthest, as 0 to 74",
    "rh_percent": "relative humidity the sizes hold at",
    "temp_c": "°C the sizes hold at",
    "reading_life_hours": "how long a reading holds",
    "jaw_give": "how far the jaws may move a reading",
    "unit": "of numbers without a unit of their own; nothing is converted",
    "since": "for builds begun on that day or later",
    "mate": "the part and its size",
}
NAMED = {
    "parts": ("Parts", "part", "One part at a time: choose it above."),
    "characteristics": ("Characteristics", "characteristic", ""),
    "stations": ("Stations", "station", "x across and y along the face"),
    "grain": ("Grain", "size", "The direction of the wood along each size, such as thickness."),
    "mates": (
        "Mates",
        "mate",
        "A size of another part that must fit one of this part with a gap: mate less size.",
    ),
    "blank": ("Blank", "size", "How much larger than finished each size is cut."),
}


def fields_of(table: PlanTable, plan: Plan, beside: Mapping[str, str]) -> html.Div:
    """Every key of a part, or of the plan itself; `beside` holds problems by the id of their field."""
    return _Form(plan, plan.parts.get(table.path[-1] if table.path else ""), beside).whole(table)


class _Form:
    def __init__(self, plan: Plan, part: Part | None, beside: Mapping[str, str]) -> None:
        self.plan, self.part, self.beside = plan, part, beside

    def whole(self, table: PlanTable) -> html.Div:
        own = row([self.field(item) for item in table.fields], "Part" if table.path else "Plan")
        return html.Div([own, *(self.inner(item) for item in table.tables)], className="form")

    def inner(self, table: PlanTable) -> Component:
        """A table within: its fields under a heading, or what people have named in it."""
        if table.named:
            return self.named(table)
        title = f"{plain(table.path[-1])} climate" if table.path == ("reference",) else plain(table.path[-1])
        return html.Fieldset([html.Legend(title), *self.keys(table)])

    def named(self, table: PlanTable) -> Component:
        title, one, told = NAMED.get(table.path[-1], (plain(table.path[-1]), "name", ""))
        body = [
            html.P(told, className="aside") if told else None,
            *(self.entry(item) for item in table.tables),
            *self.places(table),
            self.bare(table),
            self.more(table, one),
        ]
        if table.path[-1] == "characteristics":
            return html.Section([html.H2(title), *body], className="entries")
        shut = len(table.names) > MANY or not table.names
        summary = f"{title}: {len(table.names) or 'none'}"
        return html.Details(
            [html.Summary(summary), html.Div(body, className="entries")],
            open=not shut or self.has_problem(table),
            className="more",
        )

    def entry(self, table: PlanTable) -> html.Details:
        """A characteristic, a mate or a size of a blank; open where something in it is still to be typed."""
        name, said = plain(table.path[-1]), self.says(table)
        body = [
            *self.keys(table),
            *(self.inner(item) for item in table.tables),
            _remove(table.path, f"Remove {name}"),
        ]
        summary = html.Summary([html.Span(name, className="entry-name"), html.Span(said, className="quiet")])
        inside = html.Div(body, role="group", className="entry-keys", **aria(label=name))
        shut = self.is_whole(table) and not self.has_problem(table)
        return html.Details([summary, inside], open=not shut, className="entry")

    def says(self, table: PlanTable) -> str:
        """What a characteristic is, from its kind."""
        from qa.characteristics import kinds

        kind = next((item.text for item in table.fields if item.path[-1] == "kind"), "")
        return kinds()[kind].says if kind in kinds() else ""

    def is_whole(self, table: PlanTable) -> bool:
        """Whether reading could make of it what it is to be."""
        part, name = self.part, table.path[-1]
        if part is None:
            return False
        read = {"characteristics": [*part.characteristics], "blank": [item.name for item in part.blanks]}
        return name in read.get(table.path[-2], [item.name for item in part.mates])

    def keys(self, table: PlanTable) -> list[Component]:
        """The keys that are set or needed; the others out of the way, unless there is hardly any."""
        shown = [item for item in table.fields if item.text or item.asked.needed or item.id in self.beside]
        if len(shown) < QUIET_FROM:
            shown = list(table.fields)
        rest = [item for item in table.fields if item not in shown]
        found: list[Component] = [row([self.field(item) for item in shown])]
        if rest:
            names = ", ".join(_label(item) for item in rest)
            more = [html.Summary(f"Not set: {names}"), row([self.field(item) for item in rest])]
            found.append(html.Details(more, className="more"))
        return found

    def places(self, table: PlanTable) -> list[Component]:
        """One line a station, or a size with the grain along it."""
        lines = []
        for path, items in groupby(table.fields, lambda item: item.path):
            name = plain(path[-1])
            inputs = [self.field(item, f"{name} {_axis(item)}".strip(), hidden=True) for item in items]
            cells = [html.Span(name, className="name"), *inputs, _remove(path, f"Remove {name}", "Remove")]
            lines.append(
                html.Div(cells, className=f"line of-{len(inputs)}", role="group", **aria(label=name))
            )
        return lines

    def bare(self, table: PlanTable) -> Component | None:
        """The parts of a plan, whose keys are changed one part at a time."""
        if table.path != ("parts",):
            return None
        return html.Div([self.part_line(name) for name in table.names], className="entries")

    def part_line(self, name: str) -> html.Div:
        part = self.plan.parts.get(name)
        title = html.Span(part.title if part else plain(name), className="name")
        return html.Div([title, _remove(("parts", name), f"Remove {name}", "Remove")], className="line of-0")

    def more(self, table: PlanTable, one: str) -> html.Div:
        """Where something new is named."""
        key = key_of(table.path)
        name = field({NEW: key}, f"New {one}", error=self.beside.get(".".join(table.path)))
        kind = None
        if table.path[-1] == "characteristics":
            kind = choice({NEW_KIND: key}, "What it is", _kinds(), "", searchable=True)
        add = html.Button(f"Add the {one}", id={ADD: key}, type="button", className="do quiet-do", n_clicks=0)
        return html.Div([item for item in (name, kind, add) if item is not None], className="fields adding")

    def has_problem(self, table: PlanTable) -> bool:
        places = [item.id for item in table] + [".".join(path) for path in table.named_tables()]
        return any(name in self.beside for name in places)

    def field(self, item: PlanField, label: str = "", hidden: bool = False) -> Component:
        options = self.options(item)
        more = aria(label=label) if hidden else {}
        shown = "" if hidden else label or _label(item)
        name, error = {KIND: quote(item.id)}, self.beside.get(item.id)
        if options is None:
            usual = f"{item.asked.usual} unless given" if item.asked.usual else None
            hint = "" if hidden else HINTS.get(item.path[-1], "")
            return field(name, shown, item.text, hint, error=error, placeholder=usual, **more)
        if item.text:
            options = {item.text: item.text, **options}
        hint, usual = HINTS.get(item.path[-1], ""), item.asked.usual
        clear = not item.asked.needed
        return choice(
            name, shown, options, item.text, "" if hidden else hint,
            error=error, clearable=clear, placeholder=usual, **more,
        )  # fmt: skip

    def options(self, item: PlanField) -> dict[str, str] | None:
        """What a key may be, where that is one of a few."""
        from qa.characteristics import kinds

        last = item.path[-1]
        if item.asked.among:
            return {name: name for name in item.asked.among}
        if last not in ("of", "size", "mate"):
            return None
        owners = self.plan.parts.values() if last == "mate" else filter(None, [self.part])
        found = [
            (part, name)
            for part in owners
            for name, it in part.characteristics.items()
            if kinds()[it.kind].sized
        ]
        if last == "mate":
            return {f"{part.name}.{name}": f"{part.title}: {plain(name)}" for part, name in found}
        return {name: plain(name) for _, name in found}


def _kinds() -> dict[str, str]:
    from qa.characteristics import kinds

    return {name: f"{plain(name)}: {kind.says}" for name, kind in kinds().items()}


def _label(item: PlanField) -> str:
    return plain(item.path[-1].replace("_", " "))


def _axis(item: PlanField) -> str:
    return "" if item.index is None else "xy"[item.index]


def _remove(path: Sequence[str], words: str, short: str = "") -> html.Button:
    more = aria(label=words) if short else {}
    return html.Button(
        short or words, id={REMOVE: key_of(path)}, type="button", className="take-out", n_clicks=0, **more
    )


def key_of(path: Sequence[str]) -> str:
    """A path as the id of a component holds it: without a space, for ARIA names ids with spaces between."""
    return quote(json.dumps(path))


def path_of(key: str) -> tuple[str, ...]:
    """The path that the id of a button names."""
    return tuple(json.loads(unquote(key)))


def told(changes: Iterable[Change]) -> list[Component]:
    """What was changed, place by place."""
    return [html.Li(_told(item)) for item in changes]


def _told(item: Change) -> str:
    inside = ("parts", "characteristics", "stations")
    names = [name.replace("_", " ") for name in item.path if name not in inside]
    where = plain(" ".join(names)) + ("" if item.index is None else f" {'xy'[item.index]}")
    if item.was is None:
        return f"{where}: {'added' if item.came else 'removed'}"
    return f"{where}: {item.was or 'blank'} to {item.now or 'blank'}"
