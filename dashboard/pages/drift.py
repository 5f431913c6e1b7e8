"""Drift: one characteristic across the builds, as distances from its target."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.aria import aria
from dashboard.desk import Desk
from dashboard.figures.drift import drift_figure
from dashboard.marks import legend
from dashboard.notices import nothing_yet
from dashboard.page import Page, Query
from dashboard.series_view import in_short, series_table, spots_of
from dashboard.shell import ADDRESS, HERE, moved
from dashboard.words import axis_unit, plain

if TYPE_CHECKING:
    from qa.drift import Point
    from qa.plan import Part
    from qa.shop import Shop


@dataclass(frozen=True, slots=True)
class Asked:
    """What the page shows: a part, one of its characteristics, and a station where it has stations."""

    part: str
    characteristic: str
    station: str
    by_bench: bool = False


def content(desk: Desk, query: Query) -> Component:
    """The series the address asks for, the plan's first where it asks for none; ShopError if not known."""
    from qa.drift import series

    shop = desk.shop(query.get("unit"))
    parts = planned_parts(shop)
    if not parts or not desk.builds():
        return html.Div([html.H1("Drift"), nothing_yet(shop.name)])
    asked = asked_of(parts, query)
    points = series(shop, desk.store(), asked.part, asked.characteristic, asked.station or None)
    return html.Div(
        [
            html.H1("Drift"),
            _choice(parts, asked),
            html.Div(
                _drawn(shop, asked, points) if points else _none_yet(asked),
                id="drift-series",
                className="series",
            ),
        ]
    )


def planned_parts(shop: Shop) -> dict[str, Part]:
    """Every part of every plan, the newest revision of each."""
    return {
        name: part
        for revisions in shop.plans.values()
        for plan in revisions
        for name, part in plan.parts.items()
    }


def asked_of(parts: Mapping[str, Part], query: Query) -> Asked:
    """What an address asks for, completed by the plan's first where it leaves something open."""
    part = query.get("part") or next(iter(parts))
    characteristics = parts[part].characteristics if part in parts else {}
    characteristic = query.get("characteristic") or next(iter(characteristics), "")
    stations = station_names(parts.get(part), characteristic)
    station = query.get("station") or next(iter(stations), "")
    return Asked(part, characteristic, station, query.get("lines") == "bench")


def station_names(part: Part | None, characteristic: str) -> list[str]:
    """The stations a characteristic is judged at; none where it is judged once for the part."""
    from qa.characteristics import kinds

    planned = part.characteristics.get(characteristic) if part else None
    if planned is None or not kinds()[planned.kind].each_station:
        return []
    return [station.name for station in planned.stations if station.name]


def _choice(parts: Mapping[str, Part], asked: Asked) -> html.Div:
    part = parts.get(asked.part)
    characteristics = list(part.characteristics) if part else []
    stations = station_names(part, asked.characteristic)
    return html.Div(
        [
            _select("drift-part", "Part", {name: item.title for name, item in parts.items()}, asked.part),
            _select(
                "drift-characteristic",
                "Characteristic",
                {name: plain(name) for name in characteristics},
                asked.characteristic,
            ),
            _select("drift-station", "Station", {name: plain(name) for name in stations}, asked.station),
            dmc.Switch(id="drift-benches", label="A line for each bench", checked=asked.by_bench),
        ],
        className="choice",
        role="group",
        **aria(label="Series"),
    )


def _select(name: str, label: str, options: Mapping[str, str], value: str) -> dmc.Select:
    return dmc.Select(
        id=name,
        label=label,
        data=[{"value": key, "label": text} for key, text in options.items()],
        value=value if value in options else None,
        allowDeselect=False,
        disabled=not options,
        placeholder="whole part" if not options else None,
        maxDropdownHeight=400,
    )


def _none_yet(asked: Asked) -> Component:
    where = plain(f"{asked.part} {asked.characteristic} {asked.station}".strip())
    return html.P(f"No build has a reading of {where} yet.", className="notice")


def _drawn(shop: Shop, asked: Asked, points: Sequence[Point]) -> list[Component]:
    has_target = any(point.judged.target is not None for point in points)
    unit = axis_unit(points[0].judged.unit, shop.unit)
    axis = f"from target, {unit}" if has_target else unit
    figure = drift_figure(spots_of(shop, points, asked.by_bench), axis)
    return [
        html.H2(_name(shop, asked), id="series-name"),
        html.P(in_short(shop, points), className="lead", id="drift-summary"),
        legend(),
        html.Div(
            dcc.Graph(
                figure=figure,
                id="drift-chart",
                config={"displayModeBar": False, "responsive": True},
                className="chart",
            ),
            role="img",
            **aria(label="Chart of the series; the table below holds the same numbers"),
        ),
        series_table(shop, points),
    ]


def _name(shop: Shop, asked: Asked) -> str:
    title = planned_parts(shop)[asked.part].title
    return ", ".join(text for text in (title, plain(asked.characteristic), plain(asked.station)) if text)


def register(app: Dash, desk: Desk) -> None:
    """Choosing moves to the address of what was chosen, so that the back button returns."""

    @app.callback(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input("drift-part", "value"),
        Input("drift-characteristic", "value"),
        Input("drift-station", "value"),
        Input("drift-benches", "checked"),
        State(HERE, "search"),
        prevent_initial_call=True,
    )
    def choose(
        part: str | None, characteristic: str | None, station: str | None, by_bench: bool, search: str
    ) -> object:
        changed = ctx.triggered_id
        chosen = {"part": part}
        if changed != "drift-part":
            chosen["characteristic"] = characteristic
            if changed != "drift-characteristic":
                chosen["station"] = station
        chosen["lines"] = "bench" if by_bench else None
        return no_update if len(ctx.triggered) > 1 else moved(chosen, search)


PAGE = Page("drift", "/drift", "Drift", content, label="Drift", register=register)
