"""What a chart calls out, in words: each run of signalling builds, and each stated fix where it is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from drivers.lengths import format_length
from qa.characteristics.base import MILLION
from qa.drift.chart import SCORED, SINGLE, SMOOTHED

if TYPE_CHECKING:
    import datetime as dt

    from qa.drift.report import SeriesReport
    from qa.drift.words import Say

UNUSUAL = "builds like those before it would lie"


@dataclass(frozen=True, slots=True)
class Alarm:
    """Builds in a row that signal: indices `first` to `last`, and what the chart says of the first."""

    first: int
    last: int
    builds: str
    says: str


@dataclass(frozen=True, slots=True)
class DrawnFix:
    """A stated fix on a series: the index of the first build made after it, its day, words, and effect.

    `anew` says that the chart begins anew with that build.
    """

    index: int
    day: str
    text: str
    effect: str
    anew: bool


def alarms(found: SeriesReport, say: Say) -> list[Alarm]:
    """Each run of signalling builds in a sentence, oldest first; `say` says amounts on the chart's scale."""
    rules: dict[int, list[str]] = {}
    for signal in found.chart.signals:
        rules.setdefault(signal.index, []).append(signal.rule)
    told = []
    for first, last in _runs(sorted(rules)):
        name = _named(found, first, last)
        told.append(Alarm(first, last, name, _sentence(found, first, rules[first], say)))
    return told


def patterns(found: SeriesReport) -> list[Alarm]:
    """What else looks unlike chance and is no alarm, builds in a row that show the same told together."""
    by_rule: dict[str, list[int]] = {}
    for mark in found.chart.patterns:
        by_rule.setdefault(mark.rule, []).append(mark.index)
    runs = [(first, last, rule) for rule, at in by_rule.items() for first, last in _runs(sorted(at))]
    return [Alarm(first, last, _named(found, first, last), rule) for first, last, rule in sorted(runs)]


def chart_sayer(found: SeriesReport, shop_unit: str, rescaled: bool = False) -> Say:
    """Says amounts on the scale of a chart, one digit finer than a reading, with their sign."""
    unit = found.track.unit
    if rescaled and found.scaled.own_sigmas:
        return lambda value: f"{value:+.1f} standard deviations"
    if unit != "mm":
        return lambda value: f"{value:+.3f} {unit}"
    places = 3 if shop_unit == "mm" else 4

    def say(value: float) -> str:
        text = format_length(round(abs(value) * MILLION), shop_unit, places)
        return f"{'-' if value < 0 else '+'}{text}"

    return say


def drawn_fixes(found: SeriesReport, zone: dt.tzinfo) -> list[DrawnFix]:
    """The fixes drawn on a series, oldest first, and whether the chart begins anew with them."""
    import datetime as dt

    told = []
    for index, fix in sorted(found.fixes, key=lambda pair: (pair[0], pair[1].at)):
        day = dt.datetime.fromisoformat(fix.at).astimezone(zone).date().isoformat()
        build = found.track.builds[index]
        anew = fix.concerns(found.track) and index in found.chart.starts[1:]
        effect = f"the chart begins anew with {build}" if anew else f"before {build}; the chart goes on"
        told.append(DrawnFix(index, day, fix.text, effect, anew))
    return told


def _named(found: SeriesReport, first: int, last: int) -> str:
    builds = found.track.builds
    return builds[first] if first == last else f"{builds[first]} to {builds[last]}"


def _runs(indices: list[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for index in indices:
        if runs and index == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], index)
        else:
            runs.append((index, index))
    return runs


def _sentence(found: SeriesReport, at: int, rules: list[str], say: Say) -> str:
    drawn = found.chart
    said = []
    if SINGLE in rules or SCORED in rules:
        span = _span(float(drawn.lower[at]), float(drawn.upper[at]), say)
        said.append(f"{say(float(drawn.values[at]))}, where {UNUSUAL} {span}" if span else SCORED)
    if SMOOTHED in rules:
        span = _span(float(drawn.smoothed_lower[at]), float(drawn.smoothed_upper[at]), say)
        said.append(f"the moving average stands at {say(float(drawn.smoothed[at]))}, expected {span}")
    return "; ".join(said)


def _span(low: float, high: float, say: Say) -> str:
    return f"between {say(low)} and {say(high)}" if isfinite(low) and isfinite(high) else ""
