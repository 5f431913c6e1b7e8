"""Drift as one JSON document: numbers without NaN or infinity, amounts in each series' own unit."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from qa.causes.words import apart, evidence, strength, titled
from qa.drift.words import quiet_sentences, sayer, season_sentences, series_sentences

if TYPE_CHECKING:
    from qa.capability import Interval
    from qa.causes.likely import Cause
    from qa.drift.report import DriftReport, SeriesReport, Trend
    from qa.shop import Shop

Document = dict[str, object]


def document(found: DriftReport, shop: Shop) -> Document:
    """Everything `dryfit drift` says, as JSON."""
    say = sayer(shop.unit)
    return {
        "series": [_series(one, found, shop) for one in found.series],
        "causes": [_cause(cause, found, shop) for cause in found.causes],
        "causes_why": found.causes_why or None,
        "quiet": quiet_sentences(found, say),
        "season": season_sentences(found, shop, say),
        "fixes": [{"at": fix.at, "text": fix.text, "machine": fix.machine or None} for fix in found.fixes],
    }


def _series(one: SeriesReport, found: DriftReport, shop: Shop) -> Document:
    track, values, part = one.track, one.track.deviations, one.variation
    return {
        "part": track.part,
        "characteristic": track.characteristic,
        "station": track.station,
        "n": len(track.made),
        "unit": track.unit,
        "mean_deviation": _number(float(values.mean())) if values.size else None,
        "sigma": _number(float(values.std(ddof=1))) if values.size > 1 else None,
        "shop_sigma": part and {
            "sigma": _number(part.sigma), "interval": _ends((part.low, part.high)),
            "noise": _number(part.noise), "hidden_by_readings": part.hidden,
        },
        "signals": _signals(one),
        "patterns": [{"build": track.builds[s.index], "rule": s.rule} for s in one.chart.patterns],
        "capability": _capability(one),
        "trend": _trend(one.trend, track.builds),
        "moved": one.moved,
        "charted": one.charted,
        "scale": one.scaled.says or None,
        "why": list(one.why),
        "says": series_sentences(one, found.causes, sayer(shop.unit)),
    }  # fmt: skip


def _signals(one: SeriesReport) -> list[Document]:
    builds, values = one.track.builds, one.chart.values
    return [
        {"build": builds[signal.index], "rule": signal.rule, "value": _number(float(values[signal.index]))}
        for signal in one.chart.signals
    ]


def _capability(one: SeriesReport) -> Document | None:
    able, promise = one.capability, one.promise
    if able is None:
        return None
    names = ("cp", "cpk", "pp", "ppk")
    found: Document = {name: _number(getattr(able, name)) for name in names}
    found |= {f"{name}_interval": _ends(getattr(able, f"{name}_interval")) for name in names}
    found |= {"n": able.n, "confidence": able.confidence}
    return found | {"could_promise": promise and _number(promise.plus_minus)}


def _trend(trend: Trend | None, builds: tuple[str, ...]) -> Document | None:
    if trend is None:
        return None
    change = trend.change
    return {
        "slope_per_build": _number(trend.slope.slope),
        "interval": _ends((trend.slope.low, trend.slope.high)),
        "p": _number(trend.test.p),
        "change": change and {
            "shape": change.shape, "since_build": builds[change.first],
            "between": [builds[max(0, change.low - 1)], builds[change.high]],
            "until_build": None if change.last is None else builds[change.last],
            "amount": _number(change.amount), "p": _number(change.p),
        },
    }  # fmt: skip


def _cause(cause: Cause, found: DriftReport, shop: Shop) -> Document:
    rival = cause.rival
    return {
        "cause": titled(cause),
        "evidence": evidence(cause, found.tracks, sayer(shop.unit)),
        "since_build": cause.since,
        "until_build": cause.until,
        "kind": cause.kind,
        "name": cause.name,
        "amount": _number(cause.amount),
        "standard_error": _number(cause.error),
        "series": list(cause.series),
        "p": _number(cause.p),
        "settled": cause.settled,
        "strength": strength(cause),
        "rival": rival and {"kind": rival.kind, "name": rival.name, "margin": _number(rival.margin)},
        "to_tell_apart": apart(cause),
        "more_builds": cause.more_builds,
        "looks": cause.looks,
    }


def _ends(pair: Interval | None) -> list[float | None] | None:
    return None if pair is None else [_number(end) for end in pair]


def _number(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else round(value, 6) + 0.0
