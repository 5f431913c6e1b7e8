"""What studies of instruments say, in plain sentences and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from qa.calipers.study import GOOD, USABLE, Repeats, Study, provable
from qa.repeatability import POOL_ABOVE

if TYPE_CHECKING:
    from qa.repeatability import ComplianceStudy, CrossedStudy, ReferenceStudy

SHOWN = 0.05


def say(study: Study, tolerance: float | None = None) -> list[str]:
    """The study in plain sentences; `tolerance` plus-minus in millimetres."""
    if study.compliance is not None:
        return _say_compliance(study.compliance, study.species)
    if study.references is not None:
        return [_say_reference(name, found) for name, found in study.references.items()]
    told = []
    for item in study.repeats:
        told.append(_say_repeats(item, study.species or "this material"))
        if tolerance is not None:
            told.append(_say_tolerance(item, tolerance))
    return told if study.crossed is None else [*told, *_say_crossed(study.crossed)]


def _say_crossed(found: CrossedStudy) -> list[str]:
    between = next(row for row in found.table if row.source == "interaction")
    sorts = found.distinct_categories
    sources = (
        f"Between appraisers {found.reproducibility:.3f} mm, between parts {found.part:.3f} mm "
        f"(standard deviations): {sorts} distinct categor{'y' if sorts == 1 else 'ies'} of parts."
    )
    rule = (
        "The interaction of appraiser and part is pooled with repeatability where its p is above "
        f"{POOL_ABOVE:g}; here p is {1.0 if between.p is None else between.p:.3f}."
    )
    return [sources, rule]


def component_table(found: CrossedStudy) -> list[tuple[str, ...]]:
    """A head, and a row for each component of a crossed study: standard deviations in mm.

    The share of a tolerance is there where one was given.
    """
    head = ("component", "sd", "at 95 %", "of total variation", "of variance", "of tolerance")
    rows = [
        (
            item.name,
            f"{item.sd:.4f}",
            f"{item.low:.4f} to {item.high:.4f}",
            f"{item.of_total:.1f} %",
            f"{item.of_variance:.1f} %",
            f"{item.of_tolerance or 0:.1f} %",
        )
        for item in found.components
    ]
    judged = found.components[0].of_tolerance is not None
    return [head, *rows] if judged else [row[:-1] for row in (head, *rows)]


def _say_repeats(item: Repeats, wood: str) -> str:
    who = f"{item.name} repeats" if item.name else "Each of those who read repeats"
    return (
        f"{who} to {2 * item.repeatability:.2f} mm on {wood} (two standard deviations of "
        f"{item.repeatability:.3f}, the true one {item.low:.3f} to {item.high:.3f}); one reading can prove a "
        f"tolerance of ±{item.provable:.2f} mm or wider, the mean of four ±{provable(item.sd / 2):.2f} mm."
    )


def _say_tolerance(item: Repeats, tolerance: float) -> str:
    share = item.share(tolerance)
    judged = "good" if share <= GOOD else "usable" if share <= USABLE else "not able to judge it"
    return f"It takes {100 * share:.0f} % of ±{tolerance:g} mm: {judged} from one reading."


def _say_reference(name: str, found: ReferenceStudy) -> str:
    shown = "an error is shown" if found.p < SHOWN else "no error is shown"
    return (
        f"{name} reads {found.bias:+.3f} mm off the reference ({found.low:+.3f} to {found.high:+.3f} at "
        f"95 %, {found.n} readings; t {found.t:.2f}, p {found.p:.3f}): {shown}. It repeats to "
        f"{2 * found.repeatability:.2f} mm there."
    )


def _say_compliance(found: ComplianceStudy, wood: str) -> list[str]:
    way = "smaller" if found.compression >= 0 else "larger"
    span = f"{found.low:+.3f} to {found.high:+.3f} mm smaller at 95 %, {found.n} pairs; p {found.p:.3f}"
    where = f" on {wood}" if wood else ""
    reads = f"a firm thumb{where} reads {abs(found.compression):.3f} mm {way} than a light one ({span})"
    if found.p >= SHOWN:
        return [f"No give is shown: {reads}."]
    told = [f"{reads[0].upper()}{reads[1:]}."]
    if way == "larger":
        return [*told, "Wood does not grow under a firmer thumb: look for what else differed."]
    half = found.compression / 2
    told.append(
        f"Close the jaws until they just drag. A jaw_give of {half:.3f} on the part covers any hand between."
    )
    return told


def study_document(study: Study, tolerance: float | None = None) -> dict[str, object]:
    """The study as JSON, lengths in millimetres."""
    references = study.references or {}
    return {
        "study": study.kind,
        "unit": "mm",
        "species": study.species or None,
        "tolerance": tolerance,
        "repeats": [_repeats_document(item, tolerance) for item in study.repeats],
        "crossed": study.crossed and _crossed_document(study.crossed),
        "references": {name: _rounded(found, _REFERENCE) for name, found in references.items()} or None,
        "compliance": study.compliance and _rounded(study.compliance, _COMPLIANCE),
        "notes": list(study.notes),
        "say": say(study, tolerance),
    }


_CROSSED = (
    *("repeatability", "reproducibility", "interaction", "gauge", "part", "total"),
    *("distinct_categories", "distinct_categories_exact"),
)
_COMPONENT = ("name", "sd", "low", "high", "of_total", "of_variance", "of_tolerance")
_ROW = ("source", "df", "ss", "ms", "f", "p", "over")
_REFERENCE = ("bias", "standard_uncertainty", "low", "high", "t", "p", "repeatability", "n")
_COMPLIANCE = ("compression", "standard_uncertainty", "low", "high", "t", "p", "sd", "n")


def _crossed_document(found: CrossedStudy) -> dict[str, object]:
    """Components in mm and per cent; the rows of the analysis of variance with what they are tested over."""
    return _rounded(found, _CROSSED) | {
        "pooled_above_p": POOL_ABOVE,
        "components": [_rounded(item, _COMPONENT) for item in found.components],
        "table": [_rounded(row, _ROW) for row in found.table],
    }


def _repeats_document(item: Repeats, tolerance: float | None) -> dict[str, object]:
    return _rounded(item, ("repeatability", "low", "high", "sd", "n")) | {
        "name": item.name,
        "dof": item.dof,
        "provable_tolerance": round(item.provable, 6),
        "share_of_tolerance_percent": None if tolerance is None else round(100 * item.share(tolerance), 3),
    }


def _rounded(of: object, names: Sequence[str]) -> dict[str, object]:
    values = {name: getattr(of, name) for name in names}
    return {name: round(value, 6) if isinstance(value, float) else value for name, value in values.items()}
