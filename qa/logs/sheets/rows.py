"""A builder's sheet as rows of the log: one for each reading, whichever way the sheet lies."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from qa.errors import LogProblem
from qa.logs.piece import COLUMNS, Piece
from qa.logs.sheets.dates import iso_date, iso_time, possible_dates
from qa.logs.sheets.layout import DATES, DECIMAL, Layout
from qa.logs.sheets.meaning import LEAVE, TIME, VALUE
from qa.logs.sheets.names import PLACE, Place, PlaceSoFar, PlanNames
from qa.logs.sheets.sheet import Sheet
from qa.logs.sheets.totals import readings_only
from qa.logs.sheets.units import LENGTHS, bare, percent, ungrouped, unit_of

ROWS_AT_ONCE = 50_000
DITTO = frozenset({'"', "''", "\u2033", "\u201d", "\u3003", ",,"})
"""Marks that stand for what is written above them; in a column of units one of them is inches."""


@dataclass(frozen=True, slots=True)
class SheetReading:
    """A reading found in a sheet: its row, the column it stands in, and what the rest of the row says.

    `cells` holds the row's text by column of the log, blank ones too; `fixed` what its column fixes.
    """

    row: int
    column: str
    value: str
    cells: Mapping[str, str]
    fixed: Mapping[str, str]


Placed = tuple[SheetReading, PlaceSoFar]
"""A reading with what it is of."""


def readings_in(sheet: Sheet, layout: Layout) -> Iterator[SheetReading]:
    """Every reading of a sheet, row by row; a blank cell is one that was not read.

    Where there is but one column of readings and its name says no place, a blank cell there is a reading
    that is missing.
    """
    place = {name: number for number, name in enumerate(sheet.columns)}
    values = [(place[name], name, meaning) for name, meaning in layout.values().items() if name in place]
    shared = [
        (place[name], meaning.holds)
        for name, meaning in layout.columns.items()
        if name in place and meaning.holds not in (VALUE, LEAVE)
    ]
    alone = len(values) == 1 and not set(PLACE) & set(values[0][2].fixed)
    for number, row in sheet.rows:
        cells = {holds: row[where] for where, holds in shared}
        for where, name, meaning in values:
            if row[where] or alone:
                yield SheetReading(number, name, row[where], cells, meaning.fixed)


def text_of(reading: SheetReading, layout: Layout, name: str) -> str | None:
    """What is said of a reading in a column of the log, as it is written; None where nothing says it."""
    if name in reading.fixed:
        return reading.fixed[name]
    text = reading.cells.get(name)
    return layout.same.get(name) if text is None or (name == "unit" and not text) else text


def _place_of(reading: SheetReading, layout: Layout, names: PlanNames) -> PlaceSoFar:
    """What a reading is of, in the plan's names; what nothing says where all that agrees is one.

    A name that the plan does not have stays as it is written, and `LEAVE` where its rows are left out.
    """
    place_so_far: dict[str, str | None] = {}
    for kind in PLACE:
        text = text_of(reading, layout, kind)
        if kind == "station" and not text and "station" not in layout.same:
            text = None
        if text is not None and layout.named(text) == LEAVE:
            return dict.fromkeys(PLACE, LEAVE)
        place_so_far[kind] = None if text is None else names.match(kind, layout.named(text)) or text
    if None in place_so_far.values():
        agreeing = names.agreeing(place_so_far) or names.agreeing({**place_so_far, "part": None})
        for kind, text in place_so_far.items():
            among = {getattr(place, kind) for place in agreeing}
            place_so_far[kind] = among.pop() if text is None and len(among) == 1 else text
    return place_so_far


def planned(place_so_far: PlaceSoFar, names: PlanNames) -> Place | None:
    """The plan's place of a reading, where all of it is known."""
    agreeing = names.agreeing(place_so_far)
    return agreeing[0] if len(agreeing) == 1 else None


@dataclass(frozen=True, slots=True)
class OwnSheet:
    """A sheet, how it is read, and the names of the plan: a log that is loaded like any other."""

    sheet: Sheet
    layout: Layout
    names: PlanNames

    def pieces(self) -> Iterator[Piece]:
        """The rows of the log it makes, some at a time, each piece with where they stand in the sheet."""
        import pandas as pd

        sheet = readings_only(self.sheet, self.layout)
        malformed = [(problem, [*[""] * (len(COLUMNS) - 1), text]) for problem, text in sheet.malformed]
        readings = list(placed(sheet, self.layout, self.names))
        for start in range(0, max(len(readings), 1), ROWS_AT_ONCE):
            batch = readings[start : start + ROWS_AT_ONCE]
            rows = [_log_row(*reading_and_place, self.layout, self.names) for reading_and_place in batch]
            index = pd.RangeIndex(start, start + len(rows))
            frame = pd.DataFrame(rows, columns=list(COLUMNS), index=index, dtype="str")
            yield Piece(frame, malformed, lambda problem: self._told(problem, readings[problem.row or 0][0]))
            malformed = []

    def _told(self, problem: LogProblem, reading: SheetReading) -> LogProblem:
        """A problem with the row and column of the sheet, and the cell as the sheet has it."""
        column, value, why = self.layout.of(problem.column), problem.value, problem.why
        if problem.column == VALUE or problem.column in reading.fixed:
            column, value = reading.column, reading.value if problem.column == VALUE else value
        elif column is not None:
            value = reading.cells[problem.column]
        time = reading.cells.get(TIME, "")
        if problem.column == "taken_at" and value and time and not iso_time(time):
            column, value, why = self.layout.of(TIME), time, "is not a time of day, such as 9:30 or 2.05 pm"
        elif problem.column == "taken_at" and value and self.layout.same.get(DATES):
            why = f"is not a date, {self.layout.same[DATES]}"
        elif problem.column == "build" and value in DITTO:
            why = "is a ditto mark: write out what it stands for"
        elif problem.column == VALUE and "-" in value and "" in possible_dates(value):
            why = (
                "is a date: a spreadsheet makes one of a fraction such as 1/16; write '1/16 in', or a decimal"
            )
        if value.startswith("="):
            why = "is a formula whose result is not in the file: open it where it was made, and save it"
        return replace(problem, row=reading.row, column=column or problem.column, value=value, why=why)


def placed(sheet: Sheet, layout: Layout, names: PlanNames) -> Iterator[Placed]:
    """Every reading of a sheet with what it is of, without the rows that are left out."""
    for reading in readings_in(sheet, layout):
        place_so_far = _place_of(reading, layout, names)
        if LEAVE not in place_so_far.values():
            yield reading, place_so_far


def _log_row(reading: SheetReading, place_so_far: PlaceSoFar, layout: Layout, names: PlanNames) -> list[str]:
    """A reading as a row of the log, in the order of `COLUMNS`."""
    row = {name: text_of(reading, layout, name) or "" for name in COLUMNS}
    row |= {kind: place_so_far[kind] or "" for kind in PLACE}
    row["build"] = "" if row["build"] in DITTO else row["build"]
    row["taken_at"] = _moment(row["taken_at"], reading.cells.get(TIME, ""), layout.same.get(DATES, ""))
    row["rh_percent"], row["temp_c"] = percent(row["rh_percent"]), percent(row["temp_c"])
    value = ungrouped(reading.value, layout.same.get(DECIMAL, ""))
    row["value"], row["unit"] = _with_unit(value, reading, layout, planned(place_so_far, names))
    return [row[name] for name in COLUMNS]


def _moment(date: str, time: str, order: str) -> str:
    moment = iso_date(date, order)
    return f"{re.split('[T ]', moment)[0]}T{iso_time(time) or time}" if time and moment else moment


def _with_unit(value: str, reading: SheetReading, layout: Layout, place: Place | None) -> tuple[str, str]:
    """A value and its unit: as the column or the row says it, else the sheet's where the number says none."""
    unit_word = reading.fixed.get("unit") or reading.cells.get("unit") or ""
    if unit_word:
        unit = unit_of(unit_word)
        multiple = unit is not None and unit not in (*LENGTHS, "%", "deg")
        return (f"{value} {unit}", "") if multiple and bare(value) else (value, unit or unit_word)
    length = place is None or place.unit == "mm"
    return value, layout.same.get("unit", "") if length and bare(value) else ""
