"""Drift of the whole shop: likely causes first, then every series by what deserves attention."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.addresses import drift_of
from dashboard.aria import aria
from dashboard.figures.drift_small import small_figure
from dashboard.views.series import drawing_of
from dashboard.views.still import still
from dashboard.words import counted, plain, unbroken

if TYPE_CHECKING:
    from qa.causes.likely import Cause
    from qa.drift.report import DriftReport, SeriesReport
    from qa.drift.track import Track
    from qa.drift.words import Say
    from qa.shop import Shop

NAMED = 4
"""A cause that moved more series than this is not a matter of each of them."""


def overview(shop: Shop, found: DriftReport) -> list[Component]:
    """The whole shop's drift under its heading."""
    from qa.drift.words import quiet_sentences, sayer, season_sentences

    say = sayer(shop.unit)
    made = [one for one in found.series if one.track.made]
    return [
        html.P(_in_short(made), className="lead", id="drift-summary"),
        still(
            [
                *_causes(shop, found, say),
                *_said("The room", season_sentences(found, shop, say)),
                *_said("Machines", quiet_sentences(found, say)),
            ]
        ),
        *_series(shop, found, made, say),
    ]


def _in_short(made: Sequence[SeriesReport]) -> str:
    builds = max(made, key=lambda one: len(one.track.made)).track.builds
    span = f"{builds[0]} to {builds[-1]}" if len(builds) > 1 else builds[0]
    moved = [one for one in made if one.moved]
    news = f"{len(moved)} of them moved" if moved else "none of them clearly moved"
    return f"{counted(len(builds), 'build', 'builds')}, {unbroken(span)}: {len(made)} series, {news}."


def _causes(shop: Shop, found: DriftReport, say: Say) -> list[Component]:
    from qa.drift.words import cause_sentences

    head = html.H2("Likely causes", id="causes", tabIndex=-1)
    if not found.causes:
        return [head, *(html.P(text) for text in cause_sentences(found, say))]
    return [
        head,
        html.Ol(
            [html.Li(cause_entry(shop, found, cause, say)) for cause in found.causes], className="causes"
        ),
    ]


def cause_entry(shop: Shop, found: DriftReport, cause: Cause, say: Say) -> list[Component | None]:
    """One likely cause with its evidence, how strong that is, and the series it moved."""
    from qa.causes.words import evidence, strength, titled

    kind, _, name = titled(cause).partition(": ")
    told = evidence(cause, found.tracks, say)
    return [
        html.H3([html.Span(kind, className="cause-kind"), html.Span(": ", className="heard"), name]),
        html.P(f"{_capital(told)}."),
        _moved(shop, found, cause),
        html.P(f"{_capital(strength(cause))}.", className="aside"),
    ]  # fmt: skip


def _moved(shop: Shop, found: DriftReport, cause: Cause) -> Component | None:
    by_name = {track.name: track for track in found.tracks}
    tracks = [by_name[name] for name in cause.series if name in by_name]
    if not tracks or len(tracks) > NAMED:
        return None
    links = [html.Li(series_link(shop, track)) for track in tracks]
    return html.Ul(links, className="links", **aria(label="The series it moved"))


def series_link(shop: Shop, track: Track) -> dcc.Link:
    """A series' name that leads to its own chart."""
    return dcc.Link(
        series_name(shop, track), href=drift_of(track.part, track.characteristic, track.station or "")
    )


def series_name(shop: Shop, track: Track) -> str:
    """A series in words: its part's title, what is measured, and where, without "mean of stations"."""
    from qa.drift.look import parts_of
    from qa.drift.track import MEAN

    part = parts_of(shop).get(track.part)
    words = [part.title if part else plain(track.part), plain(track.characteristic)]
    where = plain(track.station or "")
    if where not in ("", MEAN, plain(track.characteristic)) and not track.characteristic.startswith(where):
        words.append(where)
    return ", ".join(words)


def _said(title: str, sentences: Sequence[str]) -> list[Component]:
    if not sentences:
        return []
    return [html.H2(title), html.Ul([html.Li(_capital(text)) for text in sentences], className="said")]


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _series(shop: Shop, found: DriftReport, made: Sequence[SeriesReport], say: Say) -> list[Component]:
    shown = [one for one in made if one.charted]
    rest = [one for one in made if not one.charted]
    watched = [one for one in rest if one.chart.alarms or one.moved]
    quiet = [one for one in rest if one not in watched]
    return [
        html.H2("Series", id="series", tabIndex=-1),
        html.P(
            "What deserves attention stands first. Shaded is the tolerance, ringed are builds that signal.",
            className="aside",
        ),
        html.Ol([html.Li(_small(shop, found, one, say)) for one in shown], className="multiples"),
        still([*_watched(shop, found, watched, say), *_quiet(shop, quiet)]),
    ]


def _small(shop: Shop, found: DriftReport, one: SeriesReport, say: Say) -> list[Component]:
    from qa.drift.alarms import drawn_fixes
    from qa.drift.words import series_sentences

    verdict = series_sentences(one, found.causes, say)[0]
    name = series_name(shop, one.track)
    return [
        html.H3(series_link(shop, one.track)),
        html.Div(
            dcc.Graph(
                figure=small_figure(drawing_of(shop, one, fixes=drawn_fixes(one, shop.zone()))),
                config={"staticPlot": True, "responsive": True, "displayModeBar": False},
                className="small-chart",
            ),
            className="frame small",
            role="img",
            **aria(label=f"{name}: {len(one.track.made)} builds. {verdict}"),
        ),
        html.P(verdict),
    ]


def _watched(shop: Shop, found: DriftReport, watched: Sequence[SeriesReport], say: Say) -> list[Component]:
    from qa.drift.words import series_sentences

    if not watched:
        return []
    rows = [
        html.Li([series_link(shop, one.track), ": ", series_sentences(one, found.causes, say)[0]])
        for one in watched
    ]
    return [html.H3("Matter less for fit"), html.Ul(rows, className="said")]


def _quiet(shop: Shop, quiet: Sequence[SeriesReport]) -> list[Component]:
    if not quiet:
        return []
    links: list[Component | str] = []
    for one in quiet:
        links += [series_link(shop, one.track), "; "]
    return [
        html.H3("Quiet"),
        html.P(["Nothing beyond its limits in ", *links[:-1], "."], className="quiet-series"),
    ]
