"""The readings of a study as a file or a pasted table holds them."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from drivers.lengths import parse_length
from qa.arithmetic.study_readings import COLUMNS, place
from qa.errors import ShopError

if TYPE_CHECKING:
    import pandas as pd

KEPT = (*COLUMNS, "species")
"""The columns of a study that are taken from its file; others may stand there."""


def read_study(path: Path | TextIO, name: str = "") -> pd.DataFrame:
    """The readings of a study, called `name`: part, appraiser, trial, value in mm, species where it is given.

    CSV or a pasted sheet, its cells apart by commas, semicolons or tabs. A value is in millimetres unless it
    names another unit. ShopError says what cannot be read, and where.
    """
    import pandas as pd

    name = name or str(path)
    try:
        text = path.read_text("utf-8-sig") if isinstance(path, Path) else path.read()
    except OSError as error:
        raise ShopError(f"{name} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise ShopError(f"{name} is not a table in UTF-8 CSV: {error}") from error
    lines = _rows(text, name)
    if not lines:
        raise ShopError(f"{name} is empty; a study has the columns {', '.join(COLUMNS)}")
    heads = [cell.lower() for cell in lines[0][1]]
    missing = [column for column in COLUMNS if column not in heads]
    if missing:
        raise ShopError(f"{name} has no column {', '.join(missing)}; a study has {', '.join(COLUMNS)}")
    cells = [_cells(dict(zip_longest(heads, row)), f"{name}, line {n}") for n, row in lines[1:]]
    frame = pd.DataFrame(cells, columns=[column for column in KEPT if column in heads])
    double = frame.duplicated([column for column in frame.columns if column != "value"])
    if double.any():
        raise ShopError(f"{name}: {place(frame[double].iloc[0])} is given twice")
    return frame


def _rows(text: str, name: str) -> list[tuple[int, list[str]]]:
    """The cells of a table by line, blank ones left out."""
    first = next(iter(text.strip().splitlines()), "")
    apart = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text), delimiter=apart)
    try:
        rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    except csv.Error as error:
        raise ShopError(f"{name} is not a table in UTF-8 CSV: {error}") from error
    return [(line, row) for line, row in rows if any(row)]


def _cells(row: Mapping[str | None, str | None], where: str) -> dict[str, str | float]:
    """The cells of one reading as they are meant; ShopError where one is blank or no length."""
    if None in row:
        raise ShopError(f"{where} has more cells than there are columns")
    found: dict[str, str | float] = {column: row.get(column) or "" for column in KEPT}
    blank = next((column for column in COLUMNS if not found[column]), None)
    if blank:
        raise ShopError(f"{where} has no {blank}")
    try:
        return found | {"value": parse_length(str(found["value"]))}
    except ValueError as error:
        raise ShopError(f"{where}: {error}") from error
