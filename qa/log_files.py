"""Reads a log file piece by piece as text: CSV, Parquet or XLSX, with every malformed row named."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from qa.errors import LogError, LogProblem
from qa.export_guard import GUARDED, unguard

if TYPE_CHECKING:
    import pandas as pd

REQUIRED = ("taken_at", "build", "part", "characteristic", "station", "value", "unit", "instrument")
OPTIONAL = ("bench", "machine", "rh_percent", "temp_c", "note")
COLUMNS = REQUIRED + OPTIONAL
ROWS_AT_ONCE = 50_000
MARKS = (b"\xff\xfe", b"\xfe\xff")  # how UTF-16 begins


@dataclass(frozen=True, slots=True)
class Piece:
    """Some rows of a log: a frame of text with every column, indexed by row number (the header is row 1).

    `malformed` are rows that are not in the frame: each with why, and its fields in the order of `COLUMNS`.
    """

    frame: pd.DataFrame
    malformed: list[tuple[LogProblem, list[str]]] = field(default_factory=list)


def pieces(path: Path) -> Iterator[Piece]:
    """The rows of a log, some at a time; LogError where the file as a whole cannot be read."""
    if not path.is_file():
        raise _whole(path, "is not a file; name a log in CSV, Parquet or XLSX")
    if path.suffix.lower() == ".parquet":
        yield from _table(path, "Parquet")
    elif path.suffix.lower() in (".xlsx", ".xlsm"):
        yield from _table(path, "XLSX")
    else:
        yield from _csv(path)


def _whole(path: Path, why: str, row: int | None = None) -> LogError:
    return LogError([LogProblem(path.name, row, "", "", why)])


def _csv(path: Path) -> Iterator[Piece]:
    try:
        with path.open("rb") as file:
            if file.read(2) in MARKS:
                raise _whole(path, "is UTF-16 text, not UTF-8; save it as UTF-8")
        with path.open(encoding="utf-8-sig", newline="") as file:
            yield from _rows(path, file.readline(), file)
    except UnicodeDecodeError as error:
        row, byte = _not_utf8(path)
        raise _whole(path, f"is not UTF-8 text (byte {byte:#04x}); save it as UTF-8", row) from error
    except csv.Error as error:
        raise _whole(path, f"is not CSV: {error}") from error
    except OSError as error:
        raise _whole(path, f"cannot be read: {error.strerror}") from error


def _not_utf8(path: Path) -> tuple[int, int]:
    with path.open("rb") as file:
        for row, line in enumerate(file, 1):
            try:
                line.decode()
            except UnicodeDecodeError as error:
                return row, line[error.start]
    return 1, 0


def _rows(path: Path, first: str, lines: Iterator[str]) -> Iterator[Piece]:
    delimiter = max(",;\t", key=first.count)
    header = [name.strip() for name in next(csv.reader([first], delimiter=delimiter), [])]
    check_header(path, header)
    watched = _Watched(lines)
    rows = csv.reader(watched, delimiter=delimiter)
    guarded = header.index(GUARDED) if GUARDED in header else None
    first_row = 2
    while some := list(islice(rows, ROWS_AT_ONCE)):
        if guarded is not None:
            some = [unguard(row) if row[guarded : guarded + 1] == ["yes"] else row for row in some]
        yield _piece(path, header, first_row, some, watched)
        first_row += len(some)


class _Watched:
    """Lines passed on, remembering whether the last one had its end and whether any held a zero byte."""

    def __init__(self, lines: Iterator[str]) -> None:
        self.lines = lines
        self.complete = True
        self.zeros = False

    def __iter__(self) -> Iterator[str]:
        for line in self.lines:
            self.complete = line.endswith("\n")
            if "\x00" in line:
                self.zeros = True
            yield line


def check_header(path: Path, header: Sequence[str]) -> None:
    """LogError where the header lacks a required column, names one twice, or is not there at all."""
    if not any(header):
        raise _whole(path, f"is empty; the first row must name the columns {', '.join(REQUIRED)}")
    missing = [name for name in REQUIRED if name not in header]
    if missing:
        problems = [LogProblem(path.name, 1, name, "", "the header has no such column") for name in missing]
        raise LogError(problems)
    twice = sorted({name for name in header if name in COLUMNS and header.count(name) > 1})
    if twice:
        raise LogError([LogProblem(path.name, 1, name, "", "the header names it twice") for name in twice])


def _piece(path: Path, header: list[str], first: int, rows: list[list[str]], watched: _Watched) -> Piece:
    width = len(header)
    good, numbers = rows, list(range(first, first + len(rows)))
    malformed = []
    if watched.zeros or not all(len(row) == width and any(row) for row in rows):
        reasons = [_malformed(header, row) for row in rows]
        told = zip(numbers, rows, reasons, strict=True)
        malformed = [_refused(path, header, number, row, "", why) for number, row, why in told if why]
        kept = [place for place, row in enumerate(rows) if any(row) and not reasons[place]]
        good, numbers = [rows[place] for place in kept], [numbers[place] for place in kept]
    last = first + len(rows) - 1
    if not watched.complete and good and numbers[-1] == last and _looks_cut([r[-1] for r in good], header):
        why = "the file ends in mid-line, so this row may be cut; if it is whole, end it with a line end"
        malformed.append(_refused(path, header, numbers.pop(), good.pop(), header[-1], why))
    return Piece(_frame(header, good, numbers), malformed)


def _refused(
    path: Path, header: list[str], number: int, row: list[str], column: str, why: str
) -> tuple[LogProblem, list[str]]:
    """A problem, and the row in the order of `COLUMNS`, fields beyond the header kept in its last column."""
    fields = dict(zip(header, row, strict=False))
    if len(row) > len(header):
        fields[header[-1]] = ",".join(row[len(header) - 1 :])
    value = row[-1] if column else ""
    return LogProblem(path.name, number, column, value, why), [fields.get(name, "") for name in COLUMNS]


def _malformed(header: list[str], row: list[str]) -> str:
    if any("\x00" in cell for cell in row):
        return "holds a zero byte: the file is damaged here"
    if len(row) == len(header) or not any(row):
        return ""
    cut = (
        "; it looks cut in mid-line" if len(row) < len(header) else "; is a text with a comma not in quotes?"
    )
    return f"has {len(row)} fields where the header has {len(header)}{cut}"


def _looks_cut(last_column: list[str], header: list[str]) -> bool:
    """Whether the last field of a file without a last line end may have lost its end.

    A free note may; any other field that other rows hold as well is whole.
    """
    *others, last = last_column
    return header[-1] != "note" and last != "" and bool(others) and last not in others


def _frame(header: Sequence[str], rows: list[list[str]], numbers: Sequence[int]) -> pd.DataFrame:
    import pandas as pd
    import pyarrow as pa

    columns = dict(zip(header, zip(*rows, strict=True), strict=True)) if rows else {}
    data = {name: pd.array(pa.array(columns[name]), dtype="str") for name in COLUMNS if name in columns}
    frame = pd.DataFrame(data).set_axis(pd.Series(numbers, dtype="int64"), axis=0)
    return frame.reindex(columns=list(COLUMNS), fill_value="")


def _table(path: Path, kind: str) -> Iterator[Piece]:
    """A Parquet or XLSX file: numbers and dates are written out as text, so that one way checks all."""
    import pandas as pd

    try:
        table = pd.read_parquet(path) if kind == "Parquet" else _read_excel(path)
    except Exception as error:  # whatever a damaged file makes its reader raise
        raise _whole(path, f"cannot be read as {kind}: {str(error).splitlines()[0][:200]}") from error
    table.columns = pd.Index([str(name).strip() for name in table.columns])
    check_header(path, list(table.columns))
    text = pd.DataFrame({name: table[name].map(_cell).astype("str") for name in COLUMNS if name in table})
    text.index = pd.RangeIndex(2, len(text) + 2)
    text = text.reindex(columns=list(COLUMNS), fill_value="")
    for start in range(0, len(text), ROWS_AT_ONCE):
        yield Piece(text.iloc[start : start + ROWS_AT_ONCE])


def _read_excel(path: Path) -> pd.DataFrame:
    """The first sheet; a build that is called NA is no blank."""
    import pandas as pd

    return pd.read_excel(path, keep_default_na=False, na_values=[""])


def _cell(value: object) -> str:
    import pandas as pd

    if value is None or value is pd.NaT or (isinstance(value, float) and value != value):
        return ""
    if isinstance(value, float):
        return format(Decimal(f"{value:.12g}"), "f")
    return value.isoformat() if hasattr(value, "isoformat") else str(value)
