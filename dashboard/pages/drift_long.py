"""The section that draws every build there has ever been, where a series is longer than its chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import drift_of
from dashboard.aria import aria
from dashboard.figures.drift_long import Bin, Outside, long_figure
from dashboard.words import axis_unit, counted, on_axis, signed

if TYPE_CHECKING:
    from dashboard.desk import Desk
    from qa.drift.envelope import Envelope
    from qa.drift.look import Look
    from qa.drift.track import Track
    from qa.shop import Shop

LISTED = 100


def long_section(desk: Desk, shop: Shop, look: Look, every: bool) -> list[Component]:
    """A link to all builds, or all of them drawn; nothing where the chart shows every build already."""
    from qa.store.newest import how_many_builds

    track, builds = look.report.track, how_many_builds(desk.store())
    here = drift_of(track.part, track.characteristic, track.station or "")
    if builds <= len(track.made):
        return []
    said = f"The chart and all that is said of it are of the newest {len(track.made)} builds."
    if not every:
        link = dcc.Link(f"Look over every build of the {builds}", href=f"{here}&builds=all")
        return [html.P([said, " ", link, "."], className="aside")]
    from qa.drift.look import whole

    return [
        html.H2("Every build there has been", id="every-build"),
        *_drawn(shop, whole(shop, desk.store(), track.part, track.characteristic, track.station or "")),
        html.P([said, " ", dcc.Link("Back to those alone", href=here), "."], className="aside"),
    ]


def _drawn(shop: Shop, track: Track) -> list[Component]:
    from qa.drift.envelope import envelope
    from qa.drift.look import aimed

    found = envelope(
        track.deviations,
        [float("nan") if one.lower is None else one.lower for one in track.made],
        [float("nan") if one.upper is None else one.upper for one in track.made],
    )
    unit = axis_unit(track.unit, shop.unit)
    axis = f"{'from target' if aimed(track) else 'difference'}, {unit}"
    outside = _outside(shop, track, found)
    said = _in_words(track, found)
    return [
        html.P(said, id="every-build-said"),
        html.Div(
            dcc.Graph(
                figure=long_figure(_bins(shop, track, found), outside, axis, aimed(track)),
                id="drift-long",
                config={"displayModeBar": False, "responsive": True},
                className="chart",
            ),
            className="frame every",
            role="img",
            **aria(label=f"Chart of every build. {said}"),
        ),
        _listed(outside),
    ]


def _in_words(track: Track, found: Envelope) -> str:
    n, bins = len(track.made), found.first.size
    each = (
        f"Each stretch of the chart is {n // max(bins, 1)} builds or so, least to greatest with their mean."
    )
    out = f"{counted(found.beyond, 'build is', 'builds are')} out of tolerance"
    kept = (
        f", the {found.outside.size} furthest of them drawn"
        if found.thinned
        else ", each drawn as its own cross"
    )
    return f"{n} builds, {track.builds[0]} to {track.builds[-1]}. {each} {out}{kept if found.beyond else ''}."


def _bins(shop: Shop, track: Track, found: Envelope) -> list[Bin]:
    builds, made = track.builds, track.made

    def place(value: Any) -> float:
        return on_axis(float(value), track.unit, shop.unit) or 0.0

    def limit(value: float | None) -> float | None:
        return on_axis(value, track.unit, shop.unit)

    return [
        Bin(builds[a], builds[b], int(a), place(least), place(mean), place(most),
            limit(made[a].lower), limit(made[a].upper))
        for a, b, least, mean, most in zip(
            found.first, found.last, found.least, found.mean, found.greatest, strict=True
        )
    ]  # fmt: skip


def _outside(shop: Shop, track: Track, found: Envelope) -> list[Outside]:
    told = []
    for i in found.outside:
        one = track.made[i]
        away = signed(one.deviation, track.unit, shop.unit)
        place = on_axis(one.deviation, track.unit, shop.unit) or 0.0
        told.append(Outside(one.build, int(i), place, f"{one.build}: {away}, out of tolerance"))
    return told


def _listed(outside: list[Outside]) -> Component:
    """The newest builds out of tolerance, by name."""
    if not outside:
        return html.Div()
    rows = [html.Li(one.says) for one in outside[::-1][:LISTED]]
    more = f"The newest {LISTED} of those drawn" if len(outside) > LISTED else "Those drawn"
    return html.Details(
        [html.Summary(f"{more}, by name"), html.Ul(rows, className="said columns")], className="more"
    )
