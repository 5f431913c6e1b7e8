"""Writes rows of an exported table as CSV, JSON Lines, Parquet or XLSX, some at a time."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import IO, Any

from qa.errors import QaError
from qa.export.data_dictionary import TABLES, column_types
from qa.export.guard import GUARDED, guard
from qa.export.tables import Rows
from qa.whole import whole_file

FORMS = {".csv": "csv", ".parquet": "parquet", ".xlsx": "xlsx", ".jsonl": "jsonl"}
XLSX_ROWS = 1_048_576
SMALLEST_PLAIN = 1e-6


def file_and_form(file: Path, what: str, form: str | None) -> tuple[Path, str]:
    """The file that was named, with an ending, and the form a table is written in: CSV where nothing tells.

    QaError where the name is that of a folder or of another table, or its ending and the form do not agree.
    """
    if file.is_dir():
        raise QaError(f"{file} is a folder: name a file in it, or give it as --out")
    if not file.suffix:
        named = file.with_name(f"{file.name}.{form or 'csv'}")
        if file.name in TABLES and file.name != what:
            raise QaError(
                f"{file} is the name of a table: take --what {file.name}, or call the file {named.name}"
            )
        return named, form or "csv"
    meant = FORMS.get(file.suffix.lower())
    if form and meant and form != meant:
        raise QaError(f"{file} ends like {meant}, but --format says {form}")
    chosen = form or meant
    if chosen is None:
        raise QaError(f"{file} ends like none of {', '.join(FORMS)}: take one of them, or say --format")
    return file, chosen


def write_file(what: str, rows: Rows, path: Path, form: str, replace: bool = False) -> int:
    """Write a table to a file and give how many rows it has; the file is whole or it is not there.

    QaError where the file is there already and is not to be replaced, or the form cannot hold the table.
    """
    if path.exists() and not replace:
        raise QaError(f"{path} is there already; name another file, or replace it with --force")
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as target:
        return _WRITERS[form](what, rows, target)


def write_text(what: str, rows: Rows, stream: IO[str], form: str) -> int:
    """Write a table as CSV or JSON Lines to an open stream and give how many rows it has."""
    if form not in _TEXT:
        raise QaError(f"{form} is not text: name a file for it")
    return _TEXT[form](what, rows, stream)


def _csv(what: str, rows: Rows, stream: IO[str]) -> int:
    types = column_types(what)
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([*types, GUARDED])
    count = 0
    for some in rows:
        writer.writerows(_csv_row(row, types) for row in some)
        count += len(some)
    return count


def _csv_row(row: object, types: dict[str, type]) -> list[str]:
    cells = {name: getattr(row, name) for name in types}
    names = [name for name, kind in types.items() if kind is str]
    texts, guarded = guard([str(cells[name]) for name in names])
    cells |= dict(zip(names, texts, strict=True))
    return [*map(_plain, cells.values()), "yes" if guarded else "no"]


def _plain(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and (abs(value) >= SMALLEST_PLAIN or not value):
        return format(Decimal(repr(value)), "f")  # 1e-06 is no number to every reader of CSV
    return str(value)


def _json_lines(what: str, rows: Rows, stream: IO[str]) -> int:
    names = list(column_types(what))
    count = 0
    for some in rows:
        for row in some:
            document = {name: getattr(row, name) for name in names}
            stream.write(f"{json.dumps(document, ensure_ascii=False, allow_nan=False)}\n")
        count += len(some)
    return count


_TEXT: dict[str, Callable[[str, Rows, IO[str]], int]] = {"csv": _csv, "jsonl": _json_lines}


def _text_file(write: Callable[[str, Rows, IO[str]], int]) -> Callable[[str, Rows, Path], int]:
    def to_file(what: str, rows: Rows, path: Path) -> int:
        with path.open("w", encoding="utf-8", newline="") as stream:
            return write(what, rows, stream)

    return to_file


def _parquet(what: str, rows: Rows, path: Path) -> int:
    import pyarrow as pa
    import pyarrow.parquet as pq

    kinds = {str: pa.string(), float: pa.float64(), int: pa.int64(), bool: pa.bool_()}
    types = column_types(what)
    schema = pa.schema([(name, kinds[kind]) for name, kind in types.items()])
    count = 0
    with pq.ParquetWriter(path, schema) as writer:
        for some in rows:
            columns = {name: [getattr(row, name) for row in some] for name in types}
            writer.write_table(pa.table(columns, schema=schema))
            count += len(some)
    return count


def _xlsx(what: str, rows: Rows, path: Path) -> int:
    from openpyxl import Workbook

    types = column_types(what)
    book = Workbook(write_only=True)
    sheet = book.create_sheet(what)
    sheet.append(list(types))
    count = 0
    for some in rows:
        count += len(some)
        if count >= XLSX_ROWS:
            raise QaError(
                f"a sheet of XLSX holds {XLSX_ROWS - 1:,} rows and {what} has more: take Parquet or CSV"
            )
        for row in some:
            sheet.append(_xlsx_row(sheet, [getattr(row, name) for name in types]))
    book.save(path)
    return count


def _xlsx_row(sheet: Any, cells: Sequence[object]) -> list[object]:
    """Cells whose text stays text: never a formula, nor one once it is edited."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    made: list[object] = []
    for value in cells:
        if not isinstance(value, str):
            made.append(value)
            continue
        cell = WriteOnlyCell(sheet, value=ILLEGAL_CHARACTERS_RE.sub("\N{REPLACEMENT CHARACTER}", value))
        cell.data_type = "s"
        cell.quotePrefix = True
        made.append(cell)
    return made


_WRITERS: dict[str, Callable[[str, Rows, Path], int]] = {
    "csv": _text_file(_csv),
    "jsonl": _text_file(_json_lines),
    "parquet": _parquet,
    "xlsx": _xlsx,
}
