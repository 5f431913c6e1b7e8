"""Looks the rows of a log up in the plan: the place they belong to, the unit, a believable size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from qa.arithmetic.doubt import SLIPS, slips
from qa.characteristics import kinds
from qa.characteristics.base import MILLION
from qa.errors import LogProblem
from qa.logs.schema import SCALE, Checked, failures, plan_schema
from qa.plans.plan import Plan, unknown

if TYPE_CHECKING:
    import pandas as pd

_GAP = "\x1f"


@dataclass(frozen=True, slots=True)
class PlanTable:
    """The places of one plan revision, looked up many at a time."""

    plan: Plan
    places: pd.Index[Any]
    units: tuple[str, ...]
    targets: tuple[float, ...]


def plan_table(plan: Plan) -> PlanTable:
    """Every place of a plan with its unit and, for a size, its target in millimetres (else NaN)."""
    import pandas as pd

    names, units, targets = [], [], []
    for part in plan.parts.values():
        for characteristic, station in part.to_read():
            names.append(_GAP.join((part.name, characteristic.name, station.name)))
            units.append(characteristic.unit)
            sized = kinds()[characteristic.kind].sized and characteristic.target is not None
            targets.append((characteristic.target or 0) / MILLION if sized else float("nan"))
    return PlanTable(plan, pd.Index(names, dtype="object"), tuple(units), tuple(targets))


def against_plan(frame: pd.DataFrame, table: PlanTable, file: str, accept_suspect: bool = False) -> Checked:
    """Look every well-formed row up in its plan; problems where it has no place there or is not believable.

    Adds `millionths`, exact in the characteristic's unit, `stored_unit` and `suspect`. With `accept_suspect`
    a size that looks like a slip of unit or decimal place is marked, not refused.
    """
    import numpy as np
    import pandas as pd

    names = frame["part"] + _GAP + frame["characteristic"] + _GAP + frame["station"]
    place = table.places.get_indexer(pd.Index(names, dtype="object"))
    units = np.array([*table.units, ""], dtype=object)[place]
    targets = np.array([*table.targets, np.nan])[place]
    written = frame["written_unit"].to_numpy(dtype=object)
    blank = written == ""
    default = np.where(units == "mm", table.plan.unit, units)
    unit = np.where(blank, default, written)
    is_length = (unit == "mm") | (unit == "in")
    fits = (place < 0) | np.where(units == "mm", is_length, unit == units)
    factor = np.select([unit == "in"], [SCALE["in"]], SCALE["mm"])
    millionths = np.rint(frame["number"].to_numpy() * factor)
    slip = np.where(fits, slips(millionths / MILLION, targets), np.int8(-1)).astype(np.int8)
    suspect = np.array([*(words for _, words in SLIPS), ""], dtype=object)[slip]
    shown = frame.assign(
        place=place.astype("int64"), fits=fits, millionths=millionths, stored_unit=units, suspect=suspect,
        slip=np.int8(-1) if accept_suspect else slip,
    )  # fmt: skip
    tell: dict[str, Callable[[int], LogProblem]] = {
        "place": lambda index: _no_place(file, table.plan, shown, index),
        "fits": lambda index: _misfit(file, shown, index),
        "millionths": lambda index: _no_value(file, shown, index, "is longer than 10 m"),
        "slip": lambda index: _no_value(file, shown, index, _slip(shown, index)),
    }
    return Checked(shown, [tell[column](index) for index, column in failures(plan_schema(), shown)])


def _no_value(file: str, frame: pd.DataFrame, index: int, why: str) -> LogProblem:
    return LogProblem(file, index, "value", str(frame.at[index, "value"]), why)


def _slip(frame: pd.DataFrame, index: int) -> str:
    return f"{frame.at[index, 'suspect']!s} Mend it, or load it marked with --accept-suspect"


def _misfit(file: str, frame: pd.DataFrame, index: int) -> LogProblem:
    where, unit = str(frame.at[index, "characteristic"]), str(frame.at[index, "stored_unit"])
    why = f"does not fit: {where} is read in {unit}"
    return LogProblem(file, index, "unit", str(frame.at[index, "written_unit"]), why)


def _no_place(file: str, plan: Plan, frame: pd.DataFrame, index: int) -> LogProblem:
    part, characteristic, station = (str(frame.at[index, n]) for n in ("part", "characteristic", "station"))
    if part not in plan.parts:
        return LogProblem(file, index, "part", part, unknown("part", part, plan.parts))
    known = plan.parts[part].characteristics
    if characteristic not in known:
        why = unknown(f"characteristic of {part}", characteristic, known)
        return LogProblem(file, index, "characteristic", characteristic, why)
    if known[characteristic].derived:
        why = f"is computed, not read; log the readings of {known[characteristic].of} instead"
        return LogProblem(file, index, "characteristic", characteristic, why)
    names = [s.name for s in known[characteristic].stations if s.name]
    why = unknown(f"station of {part} {characteristic}", station, names)
    if not names:
        why = f"must be blank: {characteristic} of {part} is read once"
    return LogProblem(file, index, "station", station, why)
