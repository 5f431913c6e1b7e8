"""What a log must be: well-formed by itself, then fit for its plan. Every failure is named.

A pandera check on a whole row reports every column of it, so each rule is a column of its own: one failure
is one reading, with the column to mend.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from drivers.reading import NM_PER
from qa.characteristics.base import LARGEST, MILLION
from qa.errors import LogProblem

if TYPE_CHECKING:
    import pandas as pd

SCALE = {"mm": float(NM_PER["mm"]), "in": float(NM_PER["in"]), "deg": float(MILLION), "%": float(MILLION)}
"""By the unit written: how many millionths one is, of a millimetre for lengths."""
_NEEDED = ("build", "part", "characteristic", "value")


@dataclass(frozen=True, slots=True)
class Checked:
    """The rows of a piece with what was worked out for them, and every problem by row."""

    frame: pd.DataFrame
    problems: list[LogProblem]


@cache
def well_formed_schema() -> Any:
    """Each row by itself: a time, names, a number and a unit."""
    import pandera.pandas as pa

    filled = pa.Check.ne("")
    return pa.DataFrameSchema(
        {name: pa.Column("str", filled) for name in _NEEDED}
        | {
            "time": pa.Column("datetime64[us, UTC]", nullable=False),
            "number": pa.Column(float, nullable=False),
            "written_unit": pa.Column("str", pa.Check.isin(("", *SCALE))),
            "rh": pa.Column(float, pa.Check.in_range(0, 100), nullable=True),
            "temp": pa.Column(float, pa.Check.in_range(-50, 80), nullable=True),
        }
    )


@cache
def plan_schema() -> Any:
    """Each row against its plan: a place the plan has, a unit that fits, a believable size."""
    import pandera.pandas as pa

    return pa.DataFrameSchema(
        {
            "place": pa.Column("int64", pa.Check.ge(0)),
            "fits": pa.Column(bool, pa.Check.eq(True)),
            "millionths": pa.Column(float, pa.Check.in_range(-LARGEST, LARGEST), nullable=True),
            "slip": pa.Column("int8", pa.Check.eq(-1)),
        }
    )


def failures(schema: Any, frame: pd.DataFrame) -> list[tuple[int, str]]:
    """Every (row, column) that fails a schema, in the order of the rows."""
    import pandera.pandas as pa

    try:
        schema.validate(frame, lazy=True)
    except pa.errors.SchemaErrors as error:
        cases = error.failure_cases.dropna(subset=["index"])
        found = {
            (int(index), str(column)) for index, column in zip(cases["index"], cases["column"], strict=True)
        }
        return sorted(_once_each(found))
    return []


def _once_each(found: set[tuple[int, str]]) -> set[tuple[int, str]]:
    """A value that is missing is not told a second time as no number."""
    return {(i, c) for i, c in found if not (c == "number" and (i, "value") in found)}
