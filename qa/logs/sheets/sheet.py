"""Reads a builder's own sheet whole, from CSV, XLSX or Parquet: its header found, its cells cleaned."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any

from qa.errors import LogError, LogProblem
from qa.logs.csv_files import CUT, check_text
from qa.logs.files import cell_text, read_parquet
from qa.logs.limits import MOST_COLUMNS, TABLES, WORKBOOKS, check_sheet, check_worksheet
from qa.logs.piece import unreadable, whole
from qa.logs.sheets.cells import Exact, OverRows, clean, is_over_rows
from qa.logs.sheets.dates import possible_dates
from qa.logs.sheets.units import is_quantity
from qa.logs.workbooks import worksheet

LOOKED_AT = 20
"""The header stands in one of so many first rows."""
ONE_ROW = (
    "write each column's whole name in one row, such as 'thickness top-left', and no second row of names"
)
NAMELESS = f"has no name: is it a merged cell? Then {ONE_ROW}"


@dataclass(frozen=True, slots=True)
class Sheet:
    """The columns of a sheet by name, and the cells of every row below the header that is not blank.

    Rows are numbered as a spreadsheet shows them. `malformed` are rows that cannot be read, with their text.
    `title` is the name it was asked for by in its workbook.
    """

    path: Path
    header_row: int
    columns: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    malformed: tuple[tuple[LogProblem, str], ...] = ()
    title: str = ""

    def cells(self, column: str) -> list[str]:
        """Every cell of a column that is not blank."""
        place = self.columns.index(column)
        return [row[place] for _, row in self.rows if row[place]]


def read_sheet(path: Path, is_name: Callable[[str], bool], title: str = "") -> Sheet:
    """The sheet of a file; of a workbook the one of that title, or the first.

    `is_name` tells whether a text is the name of a column, so that a title above the header is passed over.
    LogError where the file as a whole cannot be read, or no row can be its header.
    """
    rows = list(_checked(path, _rows(path, is_name, title)))
    if path.suffix.lower() in TABLES:  # their rows end with the last cell that is not blank
        width = max(map(len, rows), default=0)
        rows = [[*row, *[""] * (width - len(row))] for row in rows]
    place, header = _header(path, rows, is_name)
    body, malformed = [], []
    for number, row in enumerate(rows[place + 1 :], place + 2):
        why = _malformed(row, header)
        if why:
            malformed.append((LogProblem(path.name, number, "", "", why), ", ".join(row)))
        elif any(row):
            body.append((number, (*row, *[""] * (len(header) - len(row)))[: len(header)]))
    body, cut = _whole(path, header, body)
    malformed += cut
    if not body and not malformed:
        raise whole(path, "has a header and no row")
    return _named(Sheet(path, place + 1, header, tuple(body), tuple(malformed), title))


def _rows(path: Path, is_name: Callable[[str], bool], title: str) -> Iterator[list[str]]:
    kind = path.suffix.lower()
    try:
        if kind == ".parquet":
            yield from _parquet_rows(path)
        elif kind in WORKBOOKS:
            yield from _xlsx_rows(path, title)
        else:
            yield from _csv_rows(path, is_name)
    except LogError:
        raise
    except Exception as error:  # whatever a damaged file makes its reader raise
        raise unreadable(path, error) from error


def _csv_rows(path: Path, is_name: Callable[[str], bool]) -> Iterator[list[str]]:
    check_sheet(path)
    check_text(path)
    text = path.read_bytes().decode("utf-8-sig")
    first = [line for line in islice(io.StringIO(text, newline=None), LOOKED_AT) if line.strip()]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(first, is_name), strict=True)
    for row in reader:
        yield [clean(cell) for cell in row]


def _delimiter(first: Sequence[str], is_name: Callable[[str], bool]) -> str:
    """What parts the most names of columns in one of the first lines; among equals what most lines hold."""

    def names(sign: str) -> int:
        rows = csv.reader(first, delimiter=sign)
        return max((sum(is_name(clean(cell)) for cell in row[:MOST_COLUMNS]) for row in rows), default=0)

    usual = [sign for sign in "\t;" if sum(sign in line for line in first) * 2 > len(first)]
    signs: list[str] = [*usual, *",;\t"]
    return max(signs, key=names)


def _xlsx_rows(path: Path, title: str) -> Iterator[list[str]]:
    """Cells as their file says them: a formula gives its result, or itself where the file holds none."""
    with worksheet(path, title) as results, worksheet(path, title, results=False) as formulas:
        check_worksheet(path, results)
        for values, written in zip(results.iter_rows(), formulas.iter_rows(), strict=True):
            yield [_xlsx_cell(*pair) for pair in zip(values, written, strict=True)]


def _xlsx_cell(cell: Any, written: Any) -> str:
    value, formula = cell.value, _formula(written)
    if value is None and cell.data_type != "str":  # of that type is the result "", of others none is there
        return formula
    text = _of(value)
    if isinstance(value, int | float) and not isinstance(value, bool) and "%" in (cell.number_format or ""):
        text = Exact(f"{cell_text(float(value) * 100)} %")
    return OverRows(text) if is_over_rows(formula) else text


def _formula(cell: Any) -> str:
    """What is worked out in a cell, "" where nothing is."""
    if cell.data_type != "f":
        return ""
    return f"={str(getattr(cell.value, 'text', cell.value)).removeprefix('=')}"


def _of(value: object) -> str:
    text = clean(cell_text(value))
    return text if isinstance(value, str | bool) else Exact(text)


def _parquet_rows(path: Path) -> Iterator[list[str]]:
    frame = read_parquet(path)
    yield [clean(str(name)) for name in frame.columns]
    for row in frame.itertuples(index=False, name=None):
        yield [_of(value) for value in row]


def _checked(path: Path, rows: Iterable[list[str]]) -> Iterator[list[str]]:
    """The rows, as long as they are not too many cells to be read whole."""
    cells = 0
    for row in rows:
        cells += len(row)
        check_sheet(path, cells, max(map(len, row), default=0))
        yield row


def _header(
    path: Path, rows: Sequence[list[str]], is_name: Callable[[str], bool]
) -> tuple[int, tuple[str, ...]]:
    """The place and the names of the first row, of those with the most known names; no readings above it."""
    names = [row for row in rows[:LOOKED_AT] if sum(map(bool, row)) > 1 and not _has_readings(row, is_name)]
    if not names:
        filled = next((number for number, row in enumerate(rows, 1) if any(row)), None)
        why = "is empty" if filled is None else "names no columns: its first row must say what each one holds"
        raise whole(path, why, filled)
    header = max(names, key=lambda row: sum(map(is_name, row)))
    place = rows.index(header)
    for number, row in enumerate(rows[:place], 1):
        if sum(map(bool, row)) > 1 and _has_readings(row, is_name):
            why = f"has readings above its header in row {place + 1}; move the header up, or delete the row"
            raise whole(path, why, number)
    return place, tuple(header)


def _whole(
    path: Path, header: Sequence[str], rows: list[tuple[int, tuple[str, ...]]]
) -> tuple[list[tuple[int, tuple[str, ...]]], list[tuple[LogProblem, str]]]:
    """The rows, but for a last one in CSV that may be cut in its last cell, which no other row holds."""
    if path.suffix.lower() in TABLES or not rows or path.read_bytes()[-1:] in (b"\n", b"\r"):
        return rows, []
    number, last = rows[-1]
    if not last[-1] or any(row[-1] == last[-1] for _, row in rows[:-1]):
        return rows, []
    problem = LogProblem(path.name, number, header[-1], last[-1], CUT)
    return rows[:-1], [(problem, ", ".join(last))]


def _has_readings(row: Sequence[str], is_name: Callable[[str], bool]) -> bool:
    return any(not is_name(cell) and (is_quantity(cell) or possible_dates(cell)) for cell in row if cell)


def _malformed(row: Sequence[str], header: Sequence[str]) -> str:
    """Why a row cannot be read, or ""; a header may end in blank cells that a row does without, not a row."""
    named = max(place for place, name in enumerate(header, 1) if name)
    if any("\x00" in cell for cell in row):
        return "holds a zero byte: the file is damaged here"
    if any(row) and len(row) < named:
        return f"has {len(row)} of {named} fields; it looks cut in mid-line: delete it if it is but a remark"
    if any(row[len(header) :]):
        return f"has something in column {len(header) + 1}, which has no name in the header"
    if any(row) and len(row) > len(header):
        more = f"has {len(row)} fields where the header has {len(header)}"
        return f"{more}: put a cell with a comma in quotes, or end the header with as many"
    return ""


def _named(sheet: Sheet) -> Sheet:
    """The sheet without nameless columns that are blank; LogError where a column has no name of its own."""
    kept = [
        place
        for place, name in enumerate(sheet.columns)
        if name or any(row[place] for _, row in sheet.rows)
    ]  # fmt: skip
    names = [sheet.columns[place] for place in kept]
    twice = dict.fromkeys(name for name in names if names.count(name) > 1 and name)
    file = sheet.path.name
    problems = [
        LogProblem(file, sheet.header_row, n, "", f"the header names it twice: {ONE_ROW}") for n in twice
    ]
    problems += [
        LogProblem(file, sheet.header_row, f"column {place + 1}", "", NAMELESS)
        for place, name in zip(kept, names, strict=True)
        if not name
    ]
    if problems:
        raise LogError(problems)
    rows = tuple((number, tuple(row[place] for place in kept)) for number, row in sheet.rows)
    return replace(sheet, columns=tuple(names), rows=rows)
