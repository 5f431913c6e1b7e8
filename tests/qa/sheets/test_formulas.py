"""Formulas in a builder's workbook: one that gives nothing, and one that sums up other rows."""

import datetime as dt
import time
import zipfile

import openpyxl
import pytest

from qa.logs.sheets.cells import is_over_rows
from qa.logs.sheets.meaning import is_known
from qa.logs.sheets.rows import OwnSheet
from qa.logs.sheets.sheet import read_sheet
from tests.qa.sheets.common import rows_of


@pytest.fixture
def workbook(tmp_path, names):
    """Writes rows as a workbook, with the results that its formulas had where it was saved; reads it."""

    def made(*rows, results=(), percent=""):
        book, path = openpyxl.Workbook(), tmp_path / "own.xlsx"
        for row in rows:
            book.active.append(row)
        if percent:
            book.active[percent].number_format = "0.0%"
        book.save(tmp_path / "bare.xlsx")
        with zipfile.ZipFile(tmp_path / "bare.xlsx") as bare, zipfile.ZipFile(path, "w") as saved:
            for part in bare.namelist():
                text = bare.read(part).decode()
                for cell, result in results if part.endswith("sheet1.xml") else ():
                    kind = ' t="str"' if result == "" else ""
                    before, after = text.split(f'<c r="{cell}"')
                    text = f'{before}<c r="{cell}"{kind}{after.replace("<v />", f"<v>{result}</v>", 1)}'
                saved.writestr(part, text)
        return read_sheet(path, lambda word: is_known(word, names))

    return made


DAY = dt.date(2025, 3, 1)
HEADER = ["guitar", "piece", "date", "waist", "moisture"]


def test_a_formula_that_gives_nothing_is_a_blank_cell(workbook, settled, names):
    """A sheet made ready for rows to come, =IF(A3="","",...); one not worked out is named."""
    rows = [["A", "side", DAY, 1.9, '=IF(F2="","",F2*2)'], ["B", "side", DAY, 1.9, "=F3*2"]]
    rows.append(["C", "side", DAY, 1.9, '=IF(F2="","",SUM(F2:F3))'])
    read = workbook(HEADER, *rows, results=[("E2", ""), ("E4", "")])
    found, questions = settled(read)
    assert questions == {}
    assert [row[5] for row in rows_of(OwnSheet(read, found.layout, names))[0]] == [
        "1.9",
        "1.9",
        "=F3*2",
        "1.9",
    ]


@pytest.mark.parametrize(
    ("formula", "name", "told"),
    [
        ("=AVERAGE(D2:D3)", "Mittel", True),
        ("=ROUND(AVERAGE($D$2:$D$3),2)", None, True),
        ("=SUBTOTAL(109,D2:D3)", "", True),
        ("=STDEV.S(D2:D3)", "C", True),
        ("=AVERAGE(F4:H4)", "C", False),
        ("=F4*25.4", "C", False),
        ("=VLOOKUP(A4,F2:G3,2)", "C", False),
    ],
)
def test_a_reading_computed_from_other_rows_is_none(workbook, settled, names, formula, name, told):
    """A total under any name or none, though its row says all else; one of its own row is a reading."""
    body = ["A", "side", DAY, 1.9], ["B", "side", DAY, 1.92]
    read = workbook(HEADER[:4], *body, [name, "side", DAY, formula], results=[("D4", "1.91")])
    found, questions = settled(read)
    assert questions == {}
    rows, malformed = rows_of(OwnSheet(read, found.layout, names))
    assert [row[5] for row in rows] == ["1.9", "1.92", *([] if told else ["1.91"])]
    where = f"own.xlsx, row 4, guitar '{name}'" if name else "own.xlsx, row 4"
    why = "looks like a total, computed from other rows in waist: write what was read"
    assert [line.split(", or delete it")[0] for line in malformed] == ([f"{where}: {why}"] if told else [])


def test_a_mean_in_per_cent_that_is_to_be_read_stays_in_per_cent(workbook, settled, names):
    """Where a build is called Mean."""
    read = workbook(["guitar", "piece", "date", "moisture"], ["Mean", "side", DAY, "=AVERAGE(F2:F3)"],
                    results=[("D2", "0.081")], percent="D2")  # fmt: skip
    found, questions = settled(read)
    assert list(questions) == [("names", "Mean")]
    rows, _ = rows_of(OwnSheet(read, found.layout.with_("names", "Mean", "read", names), names))
    assert [row[5] for row in rows] == ["8.1 %"]


@pytest.mark.parametrize(
    "hostile", ["SUM." * 250_000, f"=SUM({'A' * 1_000_000}", "=SUM(A1:A" + "1:A" * 300_000]
)
def test_an_endless_formula_is_looked_through_once(hostile):
    """In a time that grows as its length does."""
    begun = time.monotonic()
    assert is_over_rows(hostile) is False
    assert time.monotonic() - begun < 5
