"""The columns of a log and a piece of its rows, whatever sort of file it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from qa.errors import LogError, LogProblem

if TYPE_CHECKING:
    import pandas as pd

REQUIRED = ("taken_at", "build", "part", "characteristic", "station", "value", "unit", "instrument")
OPTIONAL = ("bench", "machine", "rh_percent", "temp_c", "note")
COLUMNS = REQUIRED + OPTIONAL


@dataclass(frozen=True, slots=True)
class Piece:
    """Some rows of a log: a frame of text with every column, indexed by row number (the header is row 1).

    `malformed` are rows that are not in the frame: each with why, and its fields in the order of `COLUMNS`.
    `told` is a problem of a row of the frame as its file has it, where that is another row and column.
    """

    frame: pd.DataFrame
    malformed: list[tuple[LogProblem, list[str]]] = field(default_factory=list)
    told: Callable[[LogProblem], LogProblem] = lambda problem: problem


def whole(path: Path, why: str, row: int | None = None) -> LogError:
    """One problem of a file as a whole."""
    return LogError([LogProblem(path.name, row, "", "", why)])


def unreadable(path: Path, error: Exception, read: str = "be read") -> LogError:
    """A damaged file, with the first line of what made its reader give up; `read` is what it cannot."""
    said = str(error).splitlines() or [""]
    return whole(path, f"cannot {read}: {said[0][:200] or 'it is damaged'}")


def check_header(path: Path, header: Sequence[str]) -> None:
    """LogError where the header lacks a required column, names one twice, or is not there at all."""
    if not any(header):
        raise whole(path, f"is empty; the first row must name the columns {', '.join(REQUIRED)}")
    missing = [name for name in REQUIRED if name not in header]
    if missing:
        problems = [LogProblem(path.name, 1, name, "", "the header has no such column") for name in missing]
        raise LogError(problems)
    twice = sorted({name for name in header if name in COLUMNS and header.count(name) > 1})
    if twice:
        raise LogError([LogProblem(path.name, 1, name, "", "the header names it twice") for name in twice])
