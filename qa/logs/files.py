"""Reads a log file piece by piece as text: CSV, Parquet or XLSX."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from qa.errors import LogError
from qa.logs.csv_files import csv_header, csv_pieces
from qa.logs.limits import WORKBOOKS, check_parquet
from qa.logs.piece import COLUMNS, REQUIRED, Piece, check_header, unreadable, whole
from qa.logs.workbooks import check_workbook, worksheet

if TYPE_CHECKING:
    import pandas as pd

ROWS_AT_ONCE = 50_000


def pieces(path: Path, sheet: str = "") -> Iterator[Piece]:
    """The rows of a log, some at a time; of a workbook those of the sheet of that name, or of the first.

    LogError where the file as a whole cannot be read.
    """
    if not path.is_file():
        raise whole(path, "is not a file; name a log in CSV, Parquet or XLSX")
    if path.suffix.lower() == ".parquet":
        yield from _table(path, "Parquet", lambda: read_parquet(path))
    elif path.suffix.lower() in WORKBOOKS:
        yield from _table(path, "XLSX", lambda: _read_excel(path, sheet))
    else:
        yield from csv_pieces(path)


def has_log_columns(path: Path, sheet: str = "") -> bool:
    """Whether a file's first row names every column a log needs; so too where its header cannot be read."""
    try:
        return set(REQUIRED) <= {name.strip() for name in _first_row(path, sheet)}
    except Exception:  # reading it as a log says what is wrong with it
        return True


def _first_row(path: Path, sheet: str) -> list[str]:
    if path.suffix.lower() == ".parquet":
        import pyarrow.parquet as pq

        return [str(name) for name in pq.read_schema(path).names]
    if path.suffix.lower() in WORKBOOKS:
        with worksheet(path, sheet) as chosen:
            return [str(value) for value in next(chosen.iter_rows(values_only=True))]
    return csv_header(path)


def _table(path: Path, kind: str, read: Callable[[], pd.DataFrame]) -> Iterator[Piece]:
    """A Parquet or XLSX file: numbers and dates are written out as text, so that one way checks all."""
    import pandas as pd

    try:
        table = read()
        table.columns = pd.Index([str(name).strip() for name in table.columns])
        check_header(path, list(table.columns))
        text = pd.DataFrame(
            {name: table[name].map(cell_text).astype("str") for name in COLUMNS if name in table}
        )
    except LogError:
        raise
    except Exception as error:  # whatever a damaged file makes its reader raise, at once or cell by cell
        raise unreadable(path, error, f"be read as {kind}") from error
    text.index = pd.RangeIndex(2, len(text) + 2)
    text = text.reindex(columns=list(COLUMNS), fill_value="")
    for start in range(0, len(text), ROWS_AT_ONCE):
        yield Piece(text.iloc[start : start + ROWS_AT_ONCE])


def read_parquet(path: Path) -> pd.DataFrame:
    """A table whose size was looked at first."""
    import pandas as pd

    check_parquet(path)
    return pd.read_parquet(path)


def _read_excel(path: Path, sheet: str) -> pd.DataFrame:
    """One sheet; a build that is called NA is no blank."""
    import pandas as pd

    title = check_workbook(path, sheet)
    return pd.read_excel(path, sheet_name=title, keep_default_na=False, na_values=[""])


def cell_text(value: object) -> str:
    """What a cell holds, as text: a time in ISO 8601, a number without an exponent, "" for none."""
    import pandas as pd

    if value is None or value is pd.NaT or (isinstance(value, float) and value != value):
        return ""
    if isinstance(value, float):
        return format(Decimal(f"{value:.12g}"), "f")
    return value.isoformat() if hasattr(value, "isoformat") else str(value)
