"""Opens one sheet of a workbook: the one that is named, or the first."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from qa.logs.limits import WORKBOOKS, check_archive, check_worksheet
from qa.logs.piece import whole


@contextmanager
def worksheet(path: Path, title: str = "", results: bool = True) -> Iterator[Any]:
    """One sheet of a workbook, its cells read as they are asked for; formulas as their `results`, or written.

    LogError where the workbook unpacks to too much, or has no such sheet.
    """
    with _workbook(path, results) as book:
        chosen = next((sheet for sheet in book.worksheets if not title or _same(sheet.title, title)), None)
        if chosen is None:
            titles = ", ".join(sheet.title for sheet in book.worksheets) or "none with cells"
            raise whole(path, f"has no sheet {title!r}; it has {titles}")
        chosen.reset_dimensions()
        yield chosen


def check_workbook(path: Path, title: str = "") -> str:
    """The name of the sheet as the workbook writes it; LogError where there is none, or it is too large."""
    with worksheet(path, title) as sheet:
        check_worksheet(path, sheet)
        return str(sheet.title)


def sheets_not_read(path: Path, title: str = "") -> str:
    """Which sheet of a workbook is read and which are not, in words; "" where no other holds anything."""
    if path.suffix.lower() not in WORKBOOKS:
        return ""
    try:
        with worksheet(path, title) as read:
            others = [sheet for sheet in read.parent.worksheets if sheet.title != read.title]
            named = ", ".join(sheet.title for sheet in others if next(sheet.iter_rows(), None))
            return f"only its sheet {read.title} is read; not read: {named}" if named else ""
    except Exception:  # reading it as a log says what is wrong with it
        return ""


@contextmanager
def _workbook(path: Path, results: bool = True) -> Iterator[Any]:
    from openpyxl import load_workbook

    check_archive(path)
    book = load_workbook(path, read_only=True, data_only=results)
    try:
        yield book
    finally:
        book.close()


def _same(title: str, other: str) -> bool:
    """Two names of sheets are one where only their capitals differ."""
    return title.strip().casefold() == other.strip().casefold()
