"""Log files of every sort are read piece by piece as the same text, with every malformed row named."""

import csv
import io

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa.errors import LogError
from qa.logs import csv_files as log_csv
from qa.logs.files import pieces
from qa.logs.piece import COLUMNS, REQUIRED

ROW = "2025-03-01T09:00:00,B,p,c,s,1.5,mm,CAL-1"


def read(path):
    """The rows of a log by number, and the problems of its malformed rows."""
    rows, malformed = {}, []
    for piece in pieces(path):
        rows |= {int(n): tuple(row) for n, row in zip(piece.frame.index, piece.frame.to_numpy(), strict=True)}
        malformed += [problem for problem, _ in piece.malformed]
    return rows, malformed


def test_rows_are_numbered_as_a_spreadsheet_shows_them(log):
    """The header is row 1; a blank line keeps its number."""
    rows, malformed = read(log(ROW, "", ROW))
    assert list(rows) == [2, 4]
    assert malformed == []


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_columns_in_any_order_with_any_delimiter(tmp_path, delimiter):
    """The header says which is which; optional columns not there are blank, further ones are left."""
    path = tmp_path / "log.csv"
    names = [*reversed(REQUIRED), "note", "weather"]
    cells = [*(f"{name}," for name in reversed(REQUIRED)), "a note", "fine"]
    with path.open("w", newline="") as file:
        csv.writer(file, delimiter=delimiter).writerows([names, cells])
    rows, malformed = read(path)
    assert rows[2] == (*(f"{name}," for name in REQUIRED), "", "", "", "", "a note")
    assert malformed == []


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_line_end(tmp_path, end):
    """Unix, Windows and old spreadsheets."""
    path = tmp_path / "log.csv"
    path.write_bytes(end.join((",".join(REQUIRED), ROW, ROW, "")).encode())
    rows, malformed = read(path)
    assert list(rows) == [2, 3]
    assert malformed == []


def test_text_in_quotes_may_hold_anything(tmp_path):
    """Commas, quotes and line ends inside a note."""
    path = tmp_path / "log.csv"
    note = 'a "good", long\nnote'
    with path.open("w", newline="") as file:
        csv.writer(file).writerows([[*REQUIRED, "note"], [*ROW.split(","), note], [*ROW.split(","), ""]])
    rows, _ = read(path)
    assert [row[-1] for row in rows.values()] == [note, ""]


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (ROW.rpartition(",")[0], "has 7 fields where the header has 8; it looks cut in mid-line"),
        (f"{ROW},more", "has 9 fields where the header has 8; is a text with a comma not in quotes?"),
        (ROW.replace("1.5", "1\x005"), "zero byte"),
    ],
)
def test_a_malformed_row_is_named_and_the_others_are_read(log, row, why):
    """The log goes on after it."""
    rows, (problem,) = read(log(ROW, row, ROW))
    assert list(rows) == [2, 4]
    assert (problem.file, problem.row) == ("log.csv", 3)
    assert why in problem.why


def test_a_malformed_row_keeps_its_fields_in_the_order_of_the_columns(tmp_path):
    """So that it can be written out under the usual header and mended; a field too many is not lost."""
    path = tmp_path / "log.csv"
    path.write_text("note," + ",".join(REQUIRED) + "\nn," + ROW + ",x,y\nn,2025\n")
    found = [cells for piece in pieces(path) for _, cells in piece.malformed]
    assert found == [
        [*ROW.split(",")[:-1], "CAL-1,x,y", "", "", "", "", "n"],
        ["2025", *[""] * 11, "n"],
    ]


def test_a_file_cut_in_its_last_value(log):
    """A last line without an end may have lost part of its last field: it is not believed."""
    rows, (problem,) = read(log(ROW, ROW, ROW[:-2], end=""))
    assert list(rows) == [2, 3]
    assert problem.row == 4
    assert "ends in mid-line" in problem.why


def test_a_whole_last_line_without_its_end(log):
    """A last field that other rows hold too is whole."""
    rows, malformed = read(log(ROW, ROW, end=""))
    assert list(rows) == [2, 3]
    assert malformed == []


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "is empty"),
        (b"\n\n", "is empty"),
        (f"{','.join(REQUIRED)}\n{ROW}".encode("utf-16"), "UTF-16"),
        (f"{','.join(REQUIRED)}\n{ROW} f\xfcr".encode("latin-1"), "not UTF-8 text (byte 0xfc)"),
        (",".join(REQUIRED[:-1]).encode(), "instrument: the header has no such column"),
        (",".join((*REQUIRED, "unit")).encode(), "unit: the header names it twice"),
        (b"\x89PNG\r\n\x1a\n" + bytes(100), "not UTF-8"),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_read_as_a_whole(tmp_path, content, why):
    """One problem that names the file."""
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    with pytest.raises(LogError) as caught:
        read(path)
    assert why in str(caught.value)
    assert str(caught.value).startswith("log.csv")


def test_wrong_encoding_names_its_row(tmp_path):
    """The row of the first byte that is no UTF-8."""
    path = tmp_path / "log.csv"
    path.write_bytes(f"{','.join(REQUIRED)}\n{ROW}\n{ROW}é\n".encode("latin-1"))
    with pytest.raises(LogError, match="row 3"):
        read(path)


@pytest.mark.parametrize("name", ["log.parquet", "log.xlsx", "nothing.csv"])
def test_no_such_log_or_not_what_its_name_says(tmp_path, name):
    """A damaged Parquet or XLSX file, or none at all, is one clear problem."""
    path = tmp_path / name
    if "nothing" not in name:
        path.write_bytes(b"not that")
    with pytest.raises(LogError) as caught:
        read(path)
    assert str(caught.value).startswith(name)


def test_rows_come_in_pieces(log, monkeypatch):
    """A long log is never in memory as a whole; numbers go on from piece to piece."""
    monkeypatch.setattr(log_csv, "BYTES_AT_ONCE", 400)
    path = log("short", *[ROW] * 25, "short", "", "short", *[ROW] * 24, *["short"] * 12, *[ROW] * 3)
    assert 4 < len(list(pieces(path))) < 20
    rows, problems = read(path)
    told = [problem.row for problem in problems]
    assert told == [2, 28, 30, *range(55, 67)]
    assert sorted([*rows, *told]) == [number for number in range(2, 70) if number != 29]


def test_tables_are_read_as_the_same_text(tmp_path):
    """Numbers, times and blanks of Parquet and XLSX come as a CSV would write them."""
    frame = pd.DataFrame(
        {
            "taken_at": pd.to_datetime(["2025-03-01T09:00", "2025-03-01T09:01"]),
            "build": ["NA", "null"], "part": "p", "characteristic": "c", "station": ["s", ""],
            "value": [18.02, 18.0], "unit": "mm", "instrument": None, "rh_percent": [45.5, float("nan")],
        }
    )  # fmt: skip
    wanted = {
        2: ("2025-03-01T09:00:00", "NA", "p", "c", "s", "18.02", "mm", "", "", "", "45.5", "", ""),
        3: ("2025-03-01T09:01:00", "null", "p", "c", "", "18", "mm", "", "", "", "", "", ""),
    }
    frame.to_parquet(tmp_path / "log.parquet")
    frame.to_excel(tmp_path / "log.xlsx", index=False)
    assert read(tmp_path / "log.parquet")[0] == wanted
    assert read(tmp_path / "log.xlsx")[0] == wanted


def test_small_numbers_of_a_table_have_no_exponent(tmp_path):
    """0.00001 is a number as people write them, not 1e-05."""
    frame = pd.DataFrame({name: ["x"] for name in REQUIRED} | {"value": [0.00001]})
    frame.to_parquet(tmp_path / "log.parquet")
    assert read(tmp_path / "log.parquet")[0][2][COLUMNS.index("value")] == "0.00001"


CELL = st.text(st.characters(exclude_characters="\x00", codec="utf-8"), max_size=8).map(str.strip)


@settings(deadline=None)
@given(st.lists(st.lists(CELL, min_size=8, max_size=8).filter(any), min_size=1, max_size=6))
def test_whatever_a_csv_writer_writes_is_read_back(tmp_path_factory, rows):
    """Any text in any field."""
    text = io.StringIO(newline="")
    csv.writer(text).writerows([REQUIRED, *rows])
    path = tmp_path_factory.mktemp("csv") / "log.csv"
    path.write_bytes(text.getvalue().encode())
    found, malformed = read(path)
    assert malformed == []
    assert [list(row[:8]) for row in found.values()] == rows


@settings(deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_rows_or_a_log_error(tmp_path_factory, content):
    """Never another exception."""
    path = tmp_path_factory.mktemp("csv") / "log.csv"
    path.write_bytes(",".join(REQUIRED).encode() + b"\n" + content)
    try:
        rows, malformed = read(path)
    except LogError as error:
        rows, malformed = {}, error.problems
    assert set(rows).isdisjoint(problem.row for problem in malformed)
    assert rows or malformed or not content.strip(b"\r\n, ")
