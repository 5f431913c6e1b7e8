"""Looks into a Parquet or XLSX log before it is read: a small file may unpack into more than memory holds."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

from qa.errors import LogError
from qa.logs.piece import whole

WORKBOOKS = (".xlsx", ".xlsm")
TABLES = (*WORKBOOKS, ".parquet")
"""Files whose rows are no lines of text."""
MOST_BYTES = 500_000_000
"""Unpacked. A full XLSX sheet of a log takes about 300 MB."""
MOST_TIMES = 200
"""How much larger than the file a part of it may unpack: logs take about 10 times."""
SMALL = 10_000_000
MOST_COLUMNS = 200
MOST_ROWS = 5_000_000
LONGEST_TEXT = 10_000
MOST_CELLS = 2_000_000
"""Of a sheet that is read whole: it takes about 300 MB."""
MOST_SHEET_BYTES = 100_000_000


def check_sheet(path: Path, cells: int = 0, longest: int = 0) -> None:
    """LogError where a sheet that is read whole is too large for that, or a text in it too long to be one."""
    if path.suffix.lower() not in TABLES and path.stat().st_size > MOST_SHEET_BYTES:
        most = MOST_SHEET_BYTES // 1_000_000
        raise _too_much(path, f"has more than {most} MB without the log's own columns")
    if cells > MOST_CELLS:
        raise _too_much(path, f"has more than {MOST_CELLS} cells without the log's own columns")
    if longest > LONGEST_TEXT:
        raise _too_much(path, f"has a text of {longest} signs")


def check_archive(path: Path) -> None:
    """LogError where the archive unpacks to too much; a reader unpacks at most what it says of its parts."""
    with zipfile.ZipFile(path) as archive:
        parts = archive.infolist()
    unpacked = sum(part.file_size for part in parts)
    if unpacked > MOST_BYTES:
        raise _too_much(path, f"unpacks to {unpacked // 1_000_000} MB, above {MOST_BYTES // 1_000_000}")
    for part in parts:
        if part.file_size > max(SMALL, MOST_TIMES * part.compress_size):
            raise _too_much(path, f"has a part that unpacks to more than {MOST_TIMES} times its size")


def check_worksheet(path: Path, sheet: Any) -> None:
    """LogError where a sheet of a workbook, its rows looked at one by one, is too wide.

    One far cell makes a sheet as wide as its column, in every row.
    """
    width = max((len(row) for row in sheet.iter_rows(values_only=True)), default=0)
    if width > MOST_COLUMNS:
        raise _too_much(path, f"has {width} columns, above {MOST_COLUMNS}")


def check_parquet(path: Path) -> None:
    """LogError where the table has too many rows, columns or bytes, or a text too long to be one."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    with pq.ParquetFile(path) as file:
        told, schema = file.metadata, file.schema_arrow
    groups = (told.row_group(number) for number in range(told.num_row_groups))
    unpacked = sum(group.total_byte_size for group in groups)
    if told.num_rows > MOST_ROWS:
        raise _too_much(path, f"has {told.num_rows} rows, above {MOST_ROWS}")
    if len(schema) > MOST_COLUMNS:
        raise _too_much(path, f"has {len(schema)} columns, above {MOST_COLUMNS}")
    if unpacked > MOST_BYTES:
        raise _too_much(path, f"unpacks to {unpacked // 1_000_000} MB, above {MOST_BYTES // 1_000_000}")
    nested = [field.name for field in schema if pa.types.is_nested(field.type)]
    if nested:
        raise whole(path, f"has lists or records in column {nested[0]}; a log has one value in each cell")
    _check_texts(path, [field.name for field in schema if _is_text(field.type)])


def _is_text(kind: Any) -> bool:
    import pyarrow as pa

    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    return any(is_(kind) for is_ in (pa.types.is_string, pa.types.is_large_string, pa.types.is_binary))


def _check_texts(path: Path, names: list[str]) -> None:
    """No text is too long: one that is stored once may be meant in every row."""
    import pyarrow as pa
    import pyarrow.compute as pc
    import pyarrow.parquet as pq

    if not names:
        return
    with pq.ParquetFile(path, read_dictionary=names) as file:
        for batch in file.iter_batches(100_000, columns=names):
            for name, column in zip(batch.schema.names, batch.columns, strict=True):
                texts = column.dictionary if isinstance(column, pa.DictionaryArray) else column
                longest = pc.max(pc.binary_length(texts)).as_py() or 0
                if longest > LONGEST_TEXT:
                    raise _too_much(path, f"has a text of {longest} bytes in column {name}")


def _too_much(path: Path, what: str) -> LogError:
    return whole(path, f"{what}: too much for a log; split it, or write it as CSV")
