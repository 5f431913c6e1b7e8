"""Reads a log in CSV piece by piece as text, with every malformed row named."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from qa.errors import LogProblem
from qa.export.guard import GUARDED
from qa.logs.piece import COLUMNS, Piece, check_header, whole

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    import pyarrow as pa
    from numpy.typing import NDArray

BYTES_AT_ONCE = 2_000_000
MARKS = (b"\xff\xfe", b"\xfe\xff")  # how UTF-16 begins
CUT = "the file ends in mid-line, so this row may be cut; if it is whole, end it with a line end"


def csv_header(path: Path) -> list[str]:
    """The names in the first row; an error of any sort where they cannot be read."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        first = file.readline()
    return next(csv.reader([first], delimiter=_delimiter(first)), [])


def _delimiter(first: str) -> str:
    return max(",;\t", key=first.count)


def csv_pieces(path: Path) -> Iterator[Piece]:
    """The rows of a CSV file, some at a time; LogError where the file as a whole cannot be read."""
    from pyarrow import ArrowInvalid

    try:
        check_text(path)
        with path.open(encoding="utf-8-sig", newline="") as file:
            first = file.readline()
            delimiter = _delimiter(first)
            header = [name.strip() for name in next(csv.reader([first], delimiter=delimiter), [])]
            check_header(path, header)
            if not file.read(1):
                return
        yield from _cut_off(path, header, _rows(path, header, delimiter))
    except (ArrowInvalid, csv.Error) as error:
        raise whole(path, f"is not CSV: {str(error).splitlines()[0]}") from error
    except OSError as error:
        raise whole(path, f"cannot be read: {error.strerror}") from error


def check_text(path: Path) -> None:
    """LogError with the row of the first byte that is not UTF-8."""
    with path.open("rb") as file:
        if file.read(2) in MARKS:
            raise whole(path, "is UTF-16 text, not UTF-8; save it as UTF-8")
        file.seek(0)
        for row, line in enumerate(file, 1):
            try:
                line.decode()
            except UnicodeDecodeError as error:
                why = f"is not UTF-8 text (byte {line[error.start]:#04x}); save it as UTF-8"
                raise whole(path, why, row) from error


def _rows(path: Path, header: list[str], delimiter: str) -> Iterator[Piece]:
    """The rows below the header; the reader runs ahead, so refused rows wait until those before them came."""
    from pyarrow import csv as arrow

    refused: list[tuple[int, str]] = []

    def refuse(row: arrow.InvalidRow) -> str:
        refused.append((row.number, row.text))
        return "skip"

    wanted = [name for name in (*COLUMNS, GUARDED) if name in header]
    reader = arrow.open_csv(
        path,
        arrow.ReadOptions(use_threads=False, column_names=header, skip_rows=1, block_size=BYTES_AT_ONCE),
        arrow.ParseOptions(
            delimiter=delimiter,
            newlines_in_values=True,
            ignore_empty_lines=False,
            invalid_row_handler=refuse,
        ),
        arrow.ConvertOptions(
            column_types=dict.fromkeys(wanted, "string"), include_columns=wanted, strings_can_be_null=False
        ),
    )
    first = 2
    for batch in reader:
        numbers = _numbers(first, batch.num_rows, [number for number, _ in refused])
        first = int(numbers[-1]) + 1 if len(numbers) else first
        past = [item for item in refused if item[0] < first]
        del refused[: len(past)]
        yield _piece(path, header, delimiter, _frame(batch, numbers), past)
    if refused:
        yield _piece(path, header, delimiter, _frame(None, []), refused)


def _numbers(first: int, count: int, refused: Sequence[int]) -> NDArray[np.int64]:
    """The row numbers of `count` good rows from `first` on, with refused rows between them."""
    import numpy as np

    candidates = np.arange(first, first + count + len(refused), dtype=np.int64)
    return np.setdiff1d(candidates, np.asarray(refused, np.int64), assume_unique=True)[:count]


def _frame(batch: pa.RecordBatch | None, numbers: Sequence[int] | NDArray[np.int64]) -> pd.DataFrame:
    import pandas as pd

    data = {} if batch is None else {name: pd.array(batch[name], dtype="str") for name in batch.schema.names}
    frame = pd.DataFrame(data, index=pd.Series(numbers, dtype="int64"))
    if GUARDED in frame:
        guarded = frame[GUARDED] == "yes"
        frame[guarded] = frame[guarded].apply(lambda column: column.str.removeprefix("'"))
    return frame.reindex(columns=list(COLUMNS), fill_value="")


def _piece(
    path: Path, header: list[str], delimiter: str, frame: pd.DataFrame, refused: list[tuple[int, str]]
) -> Piece:
    """The good rows of a frame, without blank ones and damaged ones, and what is wrong with the others."""
    malformed = [
        _refused(path, header, number, next(csv.reader([text], delimiter=delimiter), []))
        for number, text in refused
    ]
    blank = frame["taken_at"] == ""
    if blank.any():
        blank = (frame == "").all(axis=1)
        frame = frame[~blank]
    zeros = frame.apply(lambda column: column.str.contains("\x00", regex=False)).any(axis=1)
    if zeros.any():
        why = "holds a zero byte: the file is damaged here"
        malformed += [
            (LogProblem(path.name, int(number), "", "", why), list(row))
            for number, row in zip(frame.index[zeros], frame[zeros].to_numpy(), strict=True)
        ]
        frame = frame[~zeros]
    return Piece(frame, malformed)


def _refused(path: Path, header: list[str], number: int, row: list[str]) -> tuple[LogProblem, list[str]]:
    """A problem, and the row in the order of `COLUMNS`, fields beyond the header kept in its last column."""
    cut = (
        "; it looks cut in mid-line" if len(row) < len(header) else "; is a text with a comma not in quotes?"
    )
    why = f"has {len(row)} fields where the header has {len(header)}{cut}"
    fields = dict(zip(header, row, strict=False))
    if len(row) > len(header):
        fields[header[-1]] = ",".join(row[len(header) - 1 :])
    return LogProblem(path.name, number, "", "", why), [fields.get(name, "") for name in COLUMNS]


def _cut_off(path: Path, header: list[str], pieces: Iterator[Piece]) -> Iterator[Piece]:
    """The pieces; the last row of a file without a last line end is refused where it looks cut.

    A free note may end anyhow, and a field that other rows hold as well is whole.
    """
    with path.open("rb") as file:
        file.seek(-1, os.SEEK_END)
        complete = file.read() in b"\r\n"
    last = next(pieces, None)
    for piece in pieces:
        if last is not None:
            yield last
        last = piece
    if last is None:
        return
    yield last if complete or header[-1] not in COLUMNS else _without_cut(path, header[-1], last)


def _without_cut(path: Path, column: str, piece: Piece) -> Piece:
    numbers = [problem.row or 0 for problem, _ in piece.malformed]
    if piece.frame.empty or max(numbers, default=0) > piece.frame.index[-1] or column == "note":
        return piece
    *others, value = piece.frame[column]
    if value == "" or not others or value in others:
        return piece
    problem = LogProblem(path.name, int(piece.frame.index[-1]), column, value, CUT)
    return Piece(piece.frame.iloc[:-1], [*piece.malformed, (problem, list(piece.frame.iloc[-1]))])
