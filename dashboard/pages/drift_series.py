"""One series in depth: its chart and what it calls out, its causes, numbers, fixes and builds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import build_at, drift_of
from dashboard.aria import aria
from dashboard.figures.drift import drift_figure, groups_of
from dashboard.marks import MARKS, marked
from dashboard.pages.drift_long import long_section
from dashboard.pages.drift_overview import cause_entry
from dashboard.views.series import drawing_of, in_short, letter, series_tables
from dashboard.words import plain

if TYPE_CHECKING:
    from dashboard.desk import Desk
    from dashboard.figures.drift_frame import Drawing
    from qa.drift.alarms import Alarm, DrawnFix
    from qa.drift.look import Look
    from qa.drift.report import DriftReport
    from qa.shop import Shop


def in_depth(
    desk: Desk, shop: Shop, found: DriftReport, look: Look, by: str, every: bool
) -> list[Component | None]:
    """Everything the builds so far say of one series; `every` draws all builds there have ever been."""
    from qa.drift.alarms import alarms, chart_sayer, drawn_fixes, patterns
    from qa.drift.look import causes_of
    from qa.drift.words import sayer as in_shop_unit
    from qa.drift.words import series_sentences

    one = look.report
    say = in_shop_unit(shop.unit)
    called = alarms(one, chart_sayer(one, shop.unit, look.rescaled))
    fixes = drawn_fixes(one, shop.zone())
    verdict, *numbers = series_sentences(one, found.causes, say)
    drawing = drawing_of(shop, one, called, fixes, look, by)
    causes = causes_of(found, one.track)
    why = [html.Li(cause_entry(shop, found, cause, say)) for cause in causes]
    return [
        html.P(verdict, className="lead", id="drift-verdict"),
        html.Div(
            [
                html.Div([_chart(drawing, verdict), _key(drawing, look)], className="chart-side"),
                html.Div(
                    [*_called(called, one.track.builds), *_fixes(fixes), *_patterns(patterns(one))],
                    className="word-side",
                ),
            ],
            className="depth",
        ),
        *([html.H2("Why"), html.Ol(why, className="causes")] if why else []),
        html.H2("In numbers"),
        html.Ul([html.Li(text) for text in numbers], className="said", id="drift-numbers"),
        *long_section(desk, shop, look, every),
        *_views(shop, found, look),
        html.H2("Build by build"),
        html.P(in_short(shop, list(look.points.values())), id="drift-summary") if look.points else None,
        *series_tables(shop, look),
    ]


def _chart(drawing: Drawing, verdict: str) -> html.Div:
    return html.Div(
        dcc.Graph(
            figure=drift_figure(drawing),
            id="drift-chart",
            config={"displayModeBar": False, "responsive": True},
            className="chart",
        ),
        className="frame two-strips" if drawing.average else "frame",
        role="img",
        **aria(label=f"Chart of the series. {verdict} The lists and the table below hold the same."),
    )


def _key(drawing: Drawing, look: Look) -> html.Ul:
    """What every sign of the chart means."""
    items: list[Component] = []
    if drawing.grouped:
        names = groups_of(drawing)
        items += [html.Li([html.Span(className=f"key shape-{n % 7}"), name]) for n, name in enumerate(names)]
    elif look.points:
        seen = {spot.verdict for spot in drawing.spots}
        items += [html.Li(marked(verdict)) for verdict in MARKS if verdict in seen]
    else:
        items.append(html.Li([html.Span(className="key dot"), "one build"]))
    if any(spot.lower is not None or spot.upper is not None for spot in drawing.spots):
        items.append(html.Li([html.Span(className="key band"), "tolerance"]))
    if drawing.expected:
        items.append(html.Li([html.Span(className="key limits"), "expected from the builds before"]))
    if drawing.called or drawing.average_called:
        items.append(html.Li([html.Span(className="key ring"), "signals"]))
    if drawing.flags:
        items.append(
            html.Li([html.Span(className="key flag"), "a fix; unbroken where the chart begins anew"])
        )
    return html.Ul(items, className="legend chart-key")


def _called(called: Sequence[Alarm], builds: Sequence[str]) -> list[Component]:
    head = html.H2("What the chart calls out")
    if not called:
        few = len(builds) < 3
        text = "A chart begins at the third build." if few else "Nothing: no build is beyond its limits."
        return [head, html.P(text)]
    rows = [
        html.Li(
            [
                html.Span(str(number), className="tag"),
                html.Div(
                    [
                        html.Strong([dcc.Link(builds[alarm.first], href=build_at(builds[alarm.first])),
                                     _until(alarm, builds)]),
                        html.P(f"{alarm.says[:1].upper()}{alarm.says[1:]}."),
                    ]
                ),
            ]
        )
        for number, alarm in enumerate(called, 1)
    ]  # fmt: skip
    return [head, html.Ol(rows, className="tagged", id="drift-signals")]


def _until(alarm: Alarm, builds: Sequence[str]) -> str:
    if alarm.last == alarm.first:
        return ""
    return f" to {builds[alarm.last]}, {alarm.last - alarm.first + 1} in a row; at the first:"


def _patterns(patterns: Sequence[Alarm]) -> list[Component]:
    if not patterns:
        return []
    rows = [html.Li(f"{one.builds}: {one.says}") for one in patterns]
    return [
        html.Details(
            [
                html.Summary("Also unlike chance, though no alarm"),
                html.Ul(rows, className="said"),
            ],
            className="more",
        )
    ]


def _fixes(fixes: Sequence[DrawnFix]) -> list[Component]:
    if not fixes:
        return []
    rows = [
        html.Li(
            [
                html.Span(letter(n), className="tag"),
                html.Div([html.Strong(fix.text), html.P(f"{fix.day}, {fix.effect}.", className="aside")]),
            ]
        )
        for n, fix in enumerate(fixes)
    ]
    return [html.H2("Fixes"), html.Ol(rows, className="tagged", id="drift-fixes")]


def _views(shop: Shop, found: DriftReport, look: Look) -> list[Component]:
    """The other series of the same size: differences between its ends, each station."""
    from qa.drift.look import views
    from qa.drift.words import sayer, series_sentences

    track = look.report.track
    names = [
        one for one in views(found, shop, track.part, track.characteristic) if one != (track.station or "")
    ]
    if not names:
        return []
    known = {
        one.track.station or "": series_sentences(one, found.causes, sayer(shop.unit))[0]
        for one in found.series
        if (one.track.part, one.track.characteristic) == (track.part, track.characteristic)
    }
    rows = [
        html.Li(
            [
                dcc.Link(plain(name) or "whole part", href=drift_of(track.part, track.characteristic, name)),
                f": {known[name]}" if name in known else "",
            ]
        )
        for name in names
    ]
    return [html.H2("The same, seen otherwise"), html.Ul(rows, className="views")]
