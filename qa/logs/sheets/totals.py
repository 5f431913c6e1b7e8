"""Finds the rows of a sheet that look like a total: asked or refused, but never taken for readings."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from qa.errors import LogProblem
from qa.logs.sheets.cells import OverRows
from qa.logs.sheets.layout import PER_FILE, READ, Layout
from qa.logs.sheets.meaning import LEAVE, VALUE
from qa.logs.sheets.names import PLACE
from qa.logs.sheets.sheet import Sheet
from qa.logs.sheets.total_words import is_total
from qa.wording import listed

ABOUT_READINGS = "looks like a total, a mean or a limit, not a reading"


@dataclass(frozen=True, slots=True)
class TotalRow:
    """A row that looks like a total: its name in that column, "" where it has none, and what is wrong."""

    number: int
    column: str
    name: str
    why: str

    def problem(self, file: str) -> LogProblem:
        """What is wrong, and how it may be left out."""
        leave = f", or leave it out with --name {shlex.quote(f'{self.name}={LEAVE}')}" if self.name else ""
        return LogProblem(file, self.number, self.column, self.name, f"{self.why}, or delete it{leave}")


def total_rows(sheet: Sheet, layout: Layout) -> Iterator[TotalRow]:
    """The rows with something in a column of readings that look like a total, as far as columns are decided.

    By what they are called; as they are computed from other rows; or as they stand at the foot and
    nothing else says what they are of.
    """
    columns = _Columns.of(sheet, layout)
    foot = _foot(sheet, columns)
    for number, row in sheet.rows:
        at = columns.name_at(row)
        column, name = ("", "") if at is None else (sheet.columns[at], row[at])
        if not columns.has_reading(row) or layout.names.get(name) == READ:
            continue
        if is_total(name):
            yield TotalRow(number, column, name, f"{ABOUT_READINGS}: give it another name")
        elif summed := [
            sheet.columns[at] for at in columns.values if row[at] and isinstance(row[at], OverRows)
        ]:
            why = f"looks like a total, computed from other rows in {listed(summed)}: write what was read"
            yield TotalRow(number, column, name, why)
        elif number in foot:
            missing = listed([sheet.columns[place] for place in columns.told if place != at])
            why = f"looks like a total at the foot of the sheet, without {missing}: write them there"
            yield TotalRow(number, column, name, why)


def readings_only(sheet: Sheet, layout: Layout) -> Sheet:
    """The sheet without totals and what is written below; a total is malformed unless its name is left."""
    columns = _Columns.of(sheet, layout)
    totals = {row.number: row for row in total_rows(sheet, layout)}
    foot = _foot(sheet, columns)
    refused = tuple(
        (totals[number].problem(sheet.path.name), ", ".join(row))
        for number, row in sheet.rows
        if number in totals and layout.names.get(totals[number].name) != LEAVE
    )
    rows = tuple(
        (number, row)
        for number, row in sheet.rows
        if number not in totals and (number not in foot or columns.has_reading(row))
    )
    return replace(sheet, rows=rows, malformed=(*sheet.malformed, *refused))


@dataclass(frozen=True, slots=True)
class _Columns:
    """Where the readings stand, what they are of is told, and names of the plan and the build are."""

    values: Sequence[int]
    told: Sequence[int]
    of_plan: Sequence[int]
    build: Sequence[int]

    @classmethod
    def of(cls, sheet: Sheet, layout: Layout) -> _Columns:
        held = [layout.columns[name].holds if name in layout.columns else "" for name in sheet.columns]
        kinds = ((VALUE,), PER_FILE, PLACE, ("build",))
        return cls(*([at for at, holds in enumerate(held) if holds in kind] for kind in kinds))

    def name_at(self, row: Sequence[str]) -> int | None:
        """Where a row is called something: a total, in the build's cell or the first that is no reading; else
        in the row's first cell, or the build's. None where those are blank, or a reading or name of the plan.
        """
        filled = [at for at, cell in enumerate(row) if cell]
        words = [at for at in filled if at not in self.values][:1]
        cells = [at for at in (*words, *self.build) if row[at] and at not in self.of_plan]
        names = [at for at in cells if at == filled[0] or at in self.build]
        return next((at for at in cells if is_total(row[at])), next(iter(names), None))

    def has_reading(self, row: Sequence[str]) -> bool:
        """Whether anything stands in a column of readings."""
        return any(row[at] for at in self.values)

    def is_bare(self, row: Sequence[str]) -> bool:
        """Whether nothing but its name tells what a row is of, though there are columns for it."""
        name = self.name_at(row)
        rest = [at for at in self.told if at != name]
        return bool(rest) and not any(row[at] for at in rest)


def _foot(sheet: Sheet, columns: _Columns) -> set[int]:
    """The rows at the foot that are bare; none where no row is above them."""
    foot: set[int] = set()
    for number, row in reversed(sheet.rows):
        if not columns.is_bare(row):
            return foot
        foot.add(number)
    return set()
