"""Drift: one characteristic across the builds, as distances from its target."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard.desk import Desk
from dashboard.figures.drift import Spot, drift_figure
from dashboard.marks import legend, marked
from dashboard.notices import nothing_yet
from dashboard.page import Page, Query
from dashboard.pages.builds import build_at
from dashboard.shell import ADDRESS, HERE, moved
from dashboard.words import amount, axis_unit, counted, fine, limits, listed, on_axis, plain, signed, unbroken

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

    shop = desk.shop()
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
        **{"aria-label": "Series"},
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
            **{"aria-label": "Chart of the series; the table below holds the same numbers"},
        ),
        _table(shop, points),
    ]


def _name(shop: Shop, asked: Asked) -> str:
    title = planned_parts(shop)[asked.part].title
    return ", ".join(text for text in (title, plain(asked.characteristic), plain(asked.station)) if text)


def spots_of(shop: Shop, points: Sequence[Point], by_bench: bool) -> list[Spot]:
    """The points of a series as the figure takes them, in the shop's unit."""
    from qa.series_summary import from_target

    told = {point.build: point for point in points}
    found = []
    for row in from_target(points):
        point = told[row.build]
        unit = point.judged.unit
        place, lower, upper = (on_axis(v, unit, shop.unit) for v in (row.deviation, row.lower, row.upper))
        line = (point.bench or "bench not recorded") if by_bench else ""
        found.append(
            Spot(
                row.build,
                place or 0.0,
                lower,
                upper,
                point.judged.verdict,
                line,
                _says(shop, point),
                point.judged.target is not None,
            )
        )
    return found


def _says(shop: Shop, point: Point) -> str:
    judged = point.judged
    told = [
        f"<b>{point.build}</b>: {amount(judged.value, judged.unit, shop.unit)}, {judged.verdict}",
        f"{signed(judged.deviation, judged.unit, shop.unit)} from the target",
        f"allowed {limits(judged, shop.unit)}",
        listed([text for text in (f"{point.bench} bench" if point.bench else "", point.instrument) if text]),
    ]
    return "<br>".join(text for text in told if text)


def in_short(shop: Shop, points: Sequence[Point]) -> str:
    """The series in two or three sentences."""
    from qa.series_summary import summarise

    found = summarise(points)
    places = fine(found.unit, shop.unit)
    said = [
        f"{counted(found.builds, 'build', 'builds')}, {points[0].build}"
        + (f" to {points[-1].build}." if found.builds > 1 else "."),
        f"Mean {signed(found.mean_deviation, found.unit, shop.unit, places)} from the target"
        + (
            "."
            if found.standard_deviation is None
            else f", standard deviation {amount(found.standard_deviation, found.unit, shop.unit, places)}."
        ),
        _told(found.outside, "does not conform", "do not conform") or "None fails to conform.",
        _told(found.undecided, "is undecided", "are undecided"),
    ]
    return " ".join(text for text in said if text)


def _told(builds: Sequence[str], one: str, many: str) -> str:
    return f"{len(builds)} {one if len(builds) == 1 else many}: {unbroken(listed(builds))}." if builds else ""


def _table(shop: Shop, points: Sequence[Point]) -> html.Table:
    head = html.Tr(
        [
            html.Th("Build", scope="col"),
            html.Th("Read", scope="col", className="number"),
            html.Th("From target", scope="col", className="number"),
            html.Th("Bench", scope="col", className="wide-only"),
            html.Th("Instrument", scope="col", className="wide-only"),
            html.Th("Verdict", scope="col"),
        ]
    )
    rows = [
        html.Tr(
            [
                html.Th(dcc.Link(point.build, href=build_at(point.build)), scope="row"),
                html.Td(amount(point.judged.value, point.judged.unit, shop.unit), className="number"),
                html.Td(signed(point.judged.deviation, point.judged.unit, shop.unit), className="number"),
                html.Td(point.bench or "–", className="wide-only"),
                html.Td(point.instrument or "–", className="wide-only"),
                html.Td(marked(point.judged.verdict)),
            ]
        )
        for point in reversed(points)
    ]
    return html.Table([html.Thead(head), html.Tbody(rows)], className="plain")


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
