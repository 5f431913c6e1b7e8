"""Readings of a repeatability study: complete and balanced, or refused by part and appraiser."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from qa.arithmetic.series import LARGEST, FloatArray, rounding_of
from qa.errors import CannotSay

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ("part", "appraiser", "trial", "value")


@dataclass(frozen=True, slots=True)
class StudyReadings:
    """`values` of shape (parts, appraisers, trials), with the labels of the first two axes."""

    values: FloatArray
    parts: tuple[str, ...]
    appraisers: tuple[str, ...]

    def refuse_equal_repeats(self, purpose: str) -> None:
        """Raise CannotSay where every part was read the same at every trial."""
        if np.ptp(self.values, axis=2).max() <= rounding_of(np.abs(self.values).max()):
            raise CannotSay(
                f"{purpose}: all repeats agree to the last digit, so the step of the instrument hides its "
                "repeatability; take step / √12 for it, or read with a finer step"
            )


def study_readings(
    frame: pd.DataFrame, purpose: str, fewest: tuple[int, int, int] = (2, 2, 2)
) -> StudyReadings:
    """Return the readings of `frame` (columns part, appraiser, trial, value; rows in any order) as an array.

    `fewest` parts, appraisers and trials are needed. Raises CannotSay for a column missing, a cell blank or
    not a finite number, a trial given twice, or a part that some appraiser read less often than others.
    """
    import pandas as pd

    data = pd.DataFrame(frame)
    absent = [name for name in COLUMNS if name not in data.columns]
    if absent:
        raise CannotSay(f"{purpose}: no column {absent[0]!r}; the columns are {', '.join(COLUMNS)}")
    if data.empty:
        raise CannotSay(f"{purpose}: there are no readings")
    _refuse_blanks(data, purpose)
    values = _values(data, purpose)
    repeated = data.duplicated(["part", "appraiser", "trial"])
    if repeated.any():
        raise CannotSay(f"{purpose}: {place(_named(data)[repeated].iloc[0])} is given twice")
    _refuse_gaps(data, purpose)
    part, parts = pd.factorize(data["part"])
    appraiser, appraisers = pd.factorize(data["appraiser"])
    trial = data.groupby(["part", "appraiser"], sort=False).cumcount().to_numpy()
    table = np.empty((len(parts), len(appraisers), int(trial.max()) + 1))
    for count, least, name in zip(table.shape, fewest, ("parts", "appraisers", "trials"), strict=True):
        if count < least:
            raise CannotSay(f"{purpose}: needs {least} or more {name}, and there is {count}")
    table[part, appraiser, trial] = values
    return StudyReadings(table, tuple(map(str, parts)), tuple(map(str, appraisers)))


def place(row: Mapping[Any, Any] | pd.Series[Any]) -> str:
    """Which reading of a study, in words."""
    return f"part {row['part']}, appraiser {row['appraiser']}, trial {row['trial']}"


def _named(data: pd.DataFrame) -> pd.DataFrame:
    """Without the values, beside which a row of whole numbers would be told as fractions."""
    return data[list(COLUMNS[:3])]


def _refuse_blanks(data: pd.DataFrame, purpose: str) -> None:
    for name in COLUMNS[:3]:
        blank = data[name].isna().to_numpy()
        if blank.any():
            raise CannotSay(f"{purpose}: row {int(blank.argmax()) + 1} has no {name}")


def _values(data: pd.DataFrame, purpose: str) -> FloatArray:
    import pandas as pd

    values: FloatArray = pd.to_numeric(data["value"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    bad = np.flatnonzero(~(np.abs(values) <= LARGEST))
    if bad.size:
        row = int(bad[0])
        found = data["value"].iloc[row]
        raise CannotSay(
            f"{purpose}: {place(_named(data).iloc[row])} has no finite number but {found!r}; read it again"
        )
    return values


def _refuse_gaps(data: pd.DataFrame, purpose: str) -> None:
    counts = data.groupby(["part", "appraiser"], sort=False).size().unstack(fill_value=0)
    most = int(counts.to_numpy().max())
    short = np.argwhere(counts.to_numpy() < most)
    if short.size:
        i, j = short[0]
        raise CannotSay(
            f"{purpose}: part {counts.index[i]!s}, appraiser {counts.columns[j]!s} has "
            f"{int(counts.to_numpy()[i, j])} of {most} trials; read what is missing, or leave it out"
        )
