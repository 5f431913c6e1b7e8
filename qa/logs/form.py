"""Makes times, numbers and units out of the text of a log, row by row alike."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from drivers.lengths import parse_quantity
from qa.errors import LogProblem
from qa.logs.schema import SCALE, Checked, failures, well_formed_schema
from qa.wording import shortened

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd

PLAIN = r"[+-]?\d+(?:\.\d+)?"
MOMENT = r"[12]\d{3}-?\d{2}-?\d{2}(?:[T ]\d{2}:?\d{2}.*)?"
ZONED = r".*[T ].*(?:Z|[+-]\d{2}(?::?\d{2})?)"


def well_formed(raw: pd.DataFrame, file: str, zone: dt.tzinfo) -> Checked:
    """Work out time, number and unit of every row of text; problems where one cannot be.

    `zone` is the zone of times written without one.
    """
    frame = raw.apply(lambda column: column.str.strip()) if len(raw) else raw
    why: dict[tuple[int, str], str] = {}
    frame = frame.assign(time=times(frame["taken_at"], zone), unit=frame["unit"].str.lower())
    numbers, units = _numbers(frame, why)
    frame = frame.assign(number=numbers, written_unit=units)
    for name, words in (("rh", "must be per cent"), ("temp", "must be degrees")):
        frame[name], wrong = _plain_numbers(frame[_SHOWN[name]])
        why |= {(index, name): f"is not a number; it {words}" for index in frame.index[wrong]}
    found = failures(well_formed_schema(), frame)
    return Checked(frame, [_told(file, frame, index, column, why) for index, column in found])


_SHOWN = {"time": "taken_at", "number": "value", "written_unit": "unit", "rh": "rh_percent", "temp": "temp_c"}
_WORDS = {
    "time": "is not a date and time in ISO 8601, such as 2025-03-01T09:30",
    "number": "is not a number",
    "written_unit": f"is not a unit; write {', '.join(SCALE)}, or leave it blank for the plan's",
    "rh": "must be per cent from 0 to 100",
    "temp": "must be degrees Celsius from -50 to 80",
}


def _told(
    file: str, frame: pd.DataFrame, index: int, column: str, why: Mapping[tuple[int, str], str]
) -> LogProblem:
    shown = _SHOWN.get(column, column)
    value = str(frame.at[index, shown])
    if not value and column in ("time", "number"):
        return LogProblem(file, index, shown, "", "is missing")
    return LogProblem(file, index, shown, value, why.get((index, column)) or _WORDS.get(column, "is missing"))


def times(column: pd.Series[str], zone: dt.tzinfo) -> pd.Series[Any]:
    """Moments in UTC from text stripped of blanks, NaT where it is none; `zone` is that of bare times."""
    import pandas as pd

    column = column.where(column.str.fullmatch(MOMENT))
    zoned = column.str.fullmatch(ZONED).fillna(False).astype(bool)
    known = pd.to_datetime(column.where(zoned), format="ISO8601", errors="coerce", utc=True)
    bare = pd.to_datetime(column.where(~zoned), format="ISO8601", errors="coerce")
    local = bare.dt.tz_localize(zone, ambiguous=True, nonexistent="shift_forward").dt.tz_convert("UTC")
    return known.astype("datetime64[us, UTC]").fillna(local.astype("datetime64[us, UTC]"))


def _numbers(frame: pd.DataFrame, why: dict[tuple[int, str], str]) -> tuple[pd.Series[float], pd.Series[str]]:
    """The number of each row and the unit written with it or beside it."""
    import pandas as pd

    text = frame["value"]
    plain = text.str.fullmatch(PLAIN)
    numbers = pd.to_numeric(text.where(plain), errors="coerce").astype(float)
    units = frame["unit"].copy()
    for index in frame.index[~plain & (text != "")]:
        unit = str(frame.at[index, "unit"])
        try:
            number, found = _as_written(str(text.at[index]), unit)
        except ValueError as error:
            why[index, "number"] = str(error)
            continue
        numbers.at[index] = number
        units.at[index] = found
    return numbers, units


def _as_written(text: str, unit: str) -> tuple[float, str]:
    """A number and its unit from text such as "31,75", "1 1/4 in" or "5/64", beside the unit column.

    ValueError says why it is no number, or that text and column disagree.
    """
    if text.rstrip().endswith((".", ",")):
        raise ValueError(f"{shortened(text)!r} ends at its decimal mark: the record was cut; read it again")
    if not unit:
        return _by_itself(text)
    number, found = parse_quantity(text, unit if unit in SCALE else "mm")
    if unit in SCALE and found != unit:
        raise ValueError(f"{shortened(text)!r} is in {found}, but the unit column says {unit}")
    return float(number), unit


def _by_itself(text: str) -> tuple[float, str]:
    """A number and the unit its own text settles, "" where the plan's unit is to hold."""
    try:
        number, found = parse_quantity(text, "mm")
        return float(number), found if found == parse_quantity(text, "in")[1] else ""
    except ValueError:
        for other in ("%", "deg"):
            with suppress(ValueError):
                number, found = parse_quantity(text, other)
                return float(number), found
        raise


def _plain_numbers(column: pd.Series[str]) -> tuple[pd.Series[float], pd.Series[bool]]:
    """Numbers of an optional column, NaN where blank; and which are none, put out of every range."""
    import pandas as pd

    numbers = pd.to_numeric(column.str.replace(",", "."), errors="coerce").astype(float)
    wrong = (column != "") & ~(numbers.abs() < float("inf"))
    return numbers.mask(wrong, float("inf")), wrong
