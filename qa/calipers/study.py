"""A repeatability study: which one its readings allow, and the figures."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from qa.arithmetic.study_readings import place
from qa.calipers.study_wood import on_one_wood
from qa.errors import CannotSay
from qa.instruments import ENOUGH_REPEATS
from qa.repeatability import (
    ComplianceStudy,
    CrossedStudy,
    ReferenceStudy,
    compliance_study,
    crossed_study,
    one_person_study,
    reference_study,
)

if TYPE_CHECKING:
    import pandas as pd

Kind = Literal["crossed", "repeats", "reference", "compliance"]

USABLE, GOOD = 0.30, 0.10
"""The share of a tolerance that six standard deviations of reading may take: usable up to 30 %, good up to
10 % (AIAG Measurement Systems Analysis, 4th ed., ch. II; from memory)."""

STEP = 0.01
FEW = "so few readings can show an instrument to repeat worse than shop.toml says, not better"
LIGHT, FIRM = "light", "firm"


@dataclass(frozen=True, slots=True)
class Repeats:
    """How well one instrument (or all of a crossed study together, `name` "") repeats: a standard deviation.

    `low` and `high` hold the true one at 95 %. `sd` is what judges a tolerance: with several appraisers the
    whole gauge, hands included.
    """

    name: str
    repeatability: float
    low: float
    high: float
    dof: float
    sd: float
    n: int

    @property
    def provable(self) -> float:
        """The narrowest plus-minus tolerance that one reading can prove, rounded up to 0.01."""
        return provable(self.sd)

    def share(self, tolerance: float) -> float:
        """The share of a plus-minus tolerance that six standard deviations take."""
        return 6 * self.sd / (2 * tolerance)


@dataclass(frozen=True, slots=True)
class Study:
    """A study analysed; lengths in millimetres. Only what its kind gives is there.

    `species` is the wood it was done on, "" where that was not said.
    """

    kind: Kind
    repeats: tuple[Repeats, ...] = ()
    crossed: CrossedStudy | None = None
    references: Mapping[str, ReferenceStudy] | None = None
    compliance: ComplianceStudy | None = None
    notes: tuple[str, ...] = ()
    species: str = ""

    def of(self, name: str) -> Repeats:
        """The repeats of an instrument by name, or the only ones; CannotSay where the study has others."""
        for item in self.repeats:
            if item.name == name or len(self.repeats) == 1:
                return item
        if not self.repeats:
            raise CannotSay(f"a {self.kind} study gives no repeatability to keep")
        raise self.none_of(name)

    def none_of(self, name: str) -> CannotSay:
        """That the study has no readings of an instrument."""
        named = ", ".join(item.name for item in self.repeats)
        return CannotSay(f"the study has readings of {named}, none of {name}; keep it for one of those")


def provable(sd: float) -> float:
    """The narrowest plus-minus tolerance of which six standard deviations take 30 %, rounded up to 0.01."""
    return math.ceil(round(6 * sd / (2 * USABLE) / STEP, 6)) * STEP


def analyse(
    frame: pd.DataFrame,
    tolerance: float | None = None,
    reference: float | None = None,
    compliance: bool = False,
    step: float = STEP,
    species: str = "",
) -> Study:
    """Analyse a study by what its readings allow.

    `frame` has columns part, appraiser (the instrument or person), trial, value in millimetres; `tolerance`
    is plus-minus. With `reference` each appraiser's readings are compared with that size. With `compliance`
    the appraisers are "light" and "firm", by the hand that closed the jaws. Otherwise several appraisers and
    parts make a crossed study; else each appraiser's repeats are taken alone. Of the woods in a column
    `species` the one of that name is taken, or the only one. CannotSay as those do.
    """
    frame, wood = on_one_wood(frame, species)
    return replace(_analysed(frame, tolerance, reference, compliance, step), species=wood)


def _analysed(
    frame: pd.DataFrame, tolerance: float | None, reference: float | None, compliance: bool, step: float
) -> Study:
    if compliance:
        return Study("compliance", compliance=_compliance(frame, step))
    if reference is not None:
        return _reference(frame, reference, step)
    if frame["appraiser"].nunique() > 1 and frame["part"].nunique() > 1:
        return _crossed(frame, tolerance)
    groups = {str(name): rows for name, rows in frame.groupby("appraiser", sort=False)}
    if not groups:
        raise CannotSay("the study has no readings")
    found = tuple(_repeats(name, rows) for name, rows in groups.items())
    few = any(item.dof < ENOUGH_REPEATS for item in found)
    return Study("repeats", found, notes=(FEW,) if few else ())


def _repeats(name: str, rows: pd.DataFrame) -> Repeats:
    found = one_person_study(rows)
    sd = found.repeatability
    return Repeats(name, sd, found.low, found.high, found.dof, sd, len(rows))


def _crossed(frame: pd.DataFrame, tolerance: float | None) -> Study:
    found = crossed_study(frame, None if tolerance is None else 2 * tolerance)
    row = next(r for r in reversed(found.table) if "repeatability" in r.source)
    of_repeats = next(c for c in found.components if c.name == "repeatability")
    together = Repeats(
        "", found.repeatability, of_repeats.low, of_repeats.high, row.df, found.gauge, len(frame)
    )
    return Study("crossed", (together,), crossed=found, notes=found.notes)


def _reference(frame: pd.DataFrame, reference: float, step: float) -> Study:
    found = {
        str(name): reference_study(_numbers(rows), reference, step)
        for name, rows in frame.groupby("appraiser", sort=False)
    }
    if not found:
        raise CannotSay("the study has no readings")
    return Study("reference", references=found)


def _compliance(frame: pd.DataFrame, step: float) -> ComplianceStudy:
    hands = frame.assign(appraiser=frame["appraiser"].astype(str).str.strip().str.lower())
    odd = sorted(set(hands["appraiser"]) - {LIGHT, FIRM})
    if odd or hands["appraiser"].nunique() < 2:
        found = f"not {', '.join(map(str, odd))}" if odd else "and both are needed"
        raise CannotSay(f"a compliance study has the appraisers light and firm, {found}")
    double = hands.duplicated(["part", "appraiser", "trial"])
    if double.any():
        raise CannotSay(f"{place(hands[double].iloc[0])} is given twice")
    hands = hands.assign(value=_numbers(hands))
    wide = hands.pivot(index=["part", "trial"], columns="appraiser", values="value")
    gaps = wide[wide.isna().any(axis=1)]
    if len(gaps):
        part, trial = gaps.index[0]
        raise CannotSay(f"part {part}, trial {trial} lacks its light or its firm reading")
    return compliance_study(wide[LIGHT].tolist(), wide[FIRM].tolist(), step)


def _numbers(rows: pd.DataFrame) -> list[float]:
    import pandas as pd

    values = pd.to_numeric(rows["value"], errors="coerce")
    bad = rows[values.isna()]
    if len(bad):
        row = bad.iloc[0]
        raise CannotSay(f"{place(row)} has no number but {row['value']!r}; read it again")
    return [float(value) for value in values]
