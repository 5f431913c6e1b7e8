"""A series of builds as a drawing, as sentences and as a table: three ways to say the same."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from math import isnan
from typing import TYPE_CHECKING, Any, TypeAlias

from dash import dcc, html

from dashboard.addresses import build_at
from dashboard.figures.drift_frame import Drawing, Flag, Lines, Spot
from dashboard.marks import marked
from dashboard.words import amount, axis_unit, counted, fine, limits, listed, on_axis, signed, unbroken
from qa.conformity import Verdict

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from qa.drift.alarms import Alarm, DrawnFix
    from qa.drift.builds import Point
    from qa.drift.look import Look
    from qa.drift.report import SeriesReport
    from qa.shop import Shop

Row: TypeAlias = Mapping[Any, Any]
"""A build as `qa.drift.frame.frame` gives it."""
IN_SIGHT = 60
TELLING = (Verdict.DOES_NOT_CONFORM, Verdict.UNDECIDED)
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
GROUPS = {"bench": "bench", "caliper": "instrument", "machine": "machine"}
"""What points may be told apart by, and the column that holds it."""


def drawing_of(
    shop: Shop,
    found: SeriesReport,
    called: Sequence[Alarm] = (),
    fixes: Sequence[DrawnFix] = (),
    look: Look | None = None,
    by: str = "",
) -> Drawing:
    """A charted series in the shop's unit; `by` tells its points apart by bench, caliper or machine."""
    from qa.drift.frame import frame
    from qa.drift.look import aimed

    rows = frame(found).to_dict("records")
    rescaled = look is not None and look.rescaled
    scale = _Scale(found.track.unit, shop.unit, rescaled and found.scaled.own_sigmas)
    return Drawing(
        [_spot(shop, row, scale, look, by) for row in rows],
        _axis(found, scale),
        target=aimed(found.track),
        grouped=bool(by),
        expected=scale.lines(rows, "center", "lower", "upper"),
        average=scale.lines(rows, "smoothed", "smoothed_lower", "smoothed_upper"),
        called=[i for i, row in enumerate(rows) if _of_one(row["signal"])],
        average_called=[i for i, row in enumerate(rows) if _of_average(row["signal"])],
        alarms=[(alarm.first, str(number)) for number, alarm in enumerate(called, 1)],
        flags=[Flag(fix.index, letter(n), fix.text, fix.anew) for n, fix in enumerate(fixes)],
    )


def letter(number: int) -> str:
    """The letter a fix is drawn under: A to Z, then AA."""
    return LETTERS[number % 26] * (1 + number // 26)


class _Scale:
    """Places a series' numbers on its axis: lengths in the shop's unit, others as they are."""

    def __init__(self, unit: str, shown_in: str, sigmas: bool) -> None:
        self.unit, self.shown_in, self.sigmas = unit, shown_in, sigmas

    def place(self, value: float | None) -> float | None:
        if value is None or isnan(value):
            return None
        return float(value) if self.sigmas else on_axis(float(value), self.unit, self.shown_in)

    def lines(self, rows: Sequence[Row], *names: str) -> Lines:
        center, lower, upper = ([self.place(row[name]) for row in rows] for name in names)
        return Lines(center, lower, upper)


def _axis(found: SeriesReport, scale: _Scale) -> str:
    if scale.sigmas:
        return "standard deviations of each model"
    from qa.drift.look import aimed

    unit = axis_unit(found.track.unit, scale.shown_in)
    return f"from target, {unit}" if aimed(found.track) else f"difference, {unit}"


def _of_average(signal: str) -> bool:
    from qa.drift.chart import SMOOTHED

    return SMOOTHED in signal


def _of_one(signal: str) -> bool:
    from qa.drift.chart import SCORED, SINGLE

    return SINGLE in signal or SCORED in signal


def _spot(shop: Shop, row: Row, scale: _Scale, look: Look | None, by: str) -> Spot:
    rescaled = look is not None and look.rescaled
    point = look.points.get(row["build"]) if look else None
    lower, upper = (None if rescaled else scale.place(row[f"tolerance_{end}"]) for end in ("lower", "upper"))
    group = str(row[GROUPS[by]] or f"{by} not recorded") if by else ""
    return Spot(
        row["build"],
        scale.place(row["charted" if rescaled else "deviation"]) or 0.0,
        lower,
        upper,
        point.judged.verdict if point else None,
        group,
        _says(shop, row, point, scale),
    )


def _says(shop: Shop, row: Row, point: Point | None, scale: _Scale) -> str:
    """What stands over a point: the same as the table and the list of signals say."""
    told = [signed(row["deviation"], scale.unit, shop.unit, fine(scale.unit, shop.unit))]
    if point is not None:
        judged = point.judged
        away = f"{signed(judged.deviation, judged.unit, shop.unit)} from the target"
        read = f"{amount(judged.value, judged.unit, shop.unit)}, {judged.verdict}"
        told = [read, away, f"allowed {limits(judged, shop.unit)}"]
    made = [f"{row['bench']} bench" if row["bench"] else "", row["instrument"], row["machine"]]
    told += [f"signals: {row['signal']}" if row["signal"] else "", listed([text for text in made if text])]
    told += [f"after: {row['fix']}" if row["fix"] else ""]
    return "<br>".join(
        [f"<b>{escape(row['build'])}</b>", *(escape(text, quote=False) for text in told if text)]
    )


def in_short(shop: Shop, points: Sequence[Point]) -> str:
    """The verdicts of a series in two or three sentences."""
    from qa.drift.summary import summarise

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


def series_tables(shop: Shop, look: Look) -> list[Component]:
    """The newest builds of a series; of earlier ones those that signal or do not conform."""
    from qa.drift.frame import frame

    rows = frame(look.report).to_dict("records")[::-1]
    tables: list[Component] = [_table(shop, look, rows[:IN_SIGHT], "The newest builds of the series")]
    earlier = [row for row in rows[IN_SIGHT:] if row["signal"] or look.verdict(row["build"]) in TELLING]
    if earlier:
        said = counted(len(earlier), "earlier build", "earlier builds")
        older = _table(shop, look, earlier[:IN_SIGHT], "Earlier builds that signal or do not conform")
        said += " that signal or do not conform"
        said += f", the newest {IN_SIGHT} of them here" if len(earlier) > IN_SIGHT else ""
        tables.append(html.Details([html.Summary(said), older], className="more"))
    return tables


def _table(shop: Shop, look: Look, rows: Sequence[Row], caption: str) -> html.Table:
    judged = bool(look.points)
    names = [("Build", ""), ("Read", "number"), ("From target", "number"), ("Bench", "wide-only")]
    names += [("Caliper", "wide-only"), ("Machine", "wide-only"), ("Chart", ""), ("Verdict", "")]
    wanted = [name for name in names if judged or name[0] not in ("Read", "Verdict")]
    head = html.Tr([html.Th(name, scope="col", className=kind or None) for name, kind in wanted])
    return html.Table(
        [
            html.Caption(f"{caption}, the last first", className="heard"),
            html.Thead(head),
            html.Tbody([_row(shop, look, row, judged) for row in rows]),
        ],
        className="plain",
    )


def _row(shop: Shop, look: Look, row: Row, judged: bool) -> html.Tr:
    point = look.points.get(row["build"])
    unit = look.report.track.unit
    places = None if judged else fine(unit, shop.unit)
    cells = [
        html.Th(dcc.Link(row["build"], href=build_at(row["build"])), scope="row"),
        html.Td(signed(row["deviation"], unit, shop.unit, places), className="number"),
        *(html.Td(row[name] or "–", className="wide-only") for name in GROUPS.values()),
        html.Td("signals" if row["signal"] else ""),
    ]
    if judged:
        read = amount(point.judged.value, unit, shop.unit) if point else "–"
        cells.insert(1, html.Td(read, className="number"))
        cells.append(html.Td(marked(point.judged.verdict) if point else "–"))
    return html.Tr(cells)
