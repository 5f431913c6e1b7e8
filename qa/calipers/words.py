"""What studies of instruments say, in plain sentences and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from qa.calipers.study import GOOD, USABLE, Repeats, Study, provable

if TYPE_CHECKING:
    from qa.repeatability import ComplianceStudy, ReferenceStudy

SHOWN = 0.05


def say(study: Study, tolerance: float | None = None) -> list[str]:
    """The study in plain sentences; `tolerance` plus-minus in millimetres."""
    if study.compliance is not None:
        return _say_compliance(study.compliance)
    if study.references is not None:
        return [_say_reference(name, found) for name, found in study.references.items()]
    told = []
    for item in study.repeats:
        told.append(_say_repeats(item))
        if tolerance is not None:
            told.append(_say_tolerance(item, tolerance))
    crossed = study.crossed
    if crossed is not None:
        told.append(
            f"Between appraisers {crossed.reproducibility:.3f} mm, between parts {crossed.part:.3f} mm "
            f"(standard deviations): {crossed.distinct_categories} sorts of parts can be told apart."
        )
    return told


def _say_repeats(item: Repeats) -> str:
    who = item.name or "Whoever reads, each of these"
    return (
        f"{who} repeats to {2 * item.repeatability:.2f} mm on this material (two standard deviations of "
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
        f"95 %, {found.n} readings): {shown}. It repeats to {2 * found.repeatability:.2f} mm there."
    )


def _say_compliance(found: ComplianceStudy) -> list[str]:
    way = "smaller" if found.compression >= 0 else "larger"
    span = f"{found.low:+.3f} to {found.high:+.3f} mm smaller at 95 %, {found.n} places"
    reads = f"a firm thumb reads {abs(found.compression):.3f} mm {way} than a light one ({span})"
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
        "tolerance": tolerance,
        "repeats": [_repeats_document(item, tolerance) for item in study.repeats],
        "crossed": study.crossed and _rounded(study.crossed, _CROSSED),
        "references": {name: _rounded(found, _REFERENCE) for name, found in references.items()} or None,
        "compliance": study.compliance and _rounded(study.compliance, _COMPLIANCE),
        "notes": list(study.notes),
        "say": say(study, tolerance),
    }


_CROSSED = (
    *("repeatability", "reproducibility", "interaction", "gauge", "part", "total"),
    *("distinct_categories", "distinct_categories_exact"),
)
_REFERENCE = ("bias", "standard_uncertainty", "low", "high", "p", "repeatability", "n")
_COMPLIANCE = ("compression", "standard_uncertainty", "low", "high", "p", "sd", "n")


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
