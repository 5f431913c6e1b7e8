"""A builder's sheet in CSV: what parts its cells, cells that have moved, and words around its rows."""

import pytest

from qa.errors import LogError


def test_semicolons_and_tabs_in_notes_part_no_cells(sheet):
    """What parts the cells is what parts the names of the columns."""
    for sign, other in ((",", ";"), (";", ","), ("\t", ";")):
        text = f"guitar#piece#date#waist#note\nA#side#2025-03-01#1.9#dry{other} fine\n"
        text += f"B#side#2025-03-01#1.9#cupped{other} then flat\n"
        read = sheet(text.replace("#", sign))
        assert read.columns == ("guitar", "piece", "date", "waist", "note")
        assert read.rows[1][1][4] == f"cupped{other} then flat"


def test_cells_that_a_comma_may_have_moved_are_refused(sheet):
    """A decimal comma that is not in quotes would make 1,9 a reading of 1 and a note of 9."""
    read = sheet("guitar,piece,date,waist,note\nA,side,2025-03-01,1,9,\nB,side,2025-03-01,1.9,\n")
    assert [row[0] for row in read.rows] == [3]
    ((problem, _),) = read.malformed
    assert str(problem) == (
        "own.csv, row 2: has 6 fields where the header has 5: put a cell with a comma in quotes, or end the "
        "header with as many"
    )


def test_words_above_and_below_that_cannot_be_told_from_readings(sheet):
    """Refused, with what to do about either."""
    with pytest.raises(
        LogError, match="row 2: has readings above its header in row 3; move the header up, or"
    ):
        sheet("Build,PG-07,\nDate,3 March 2025,\nguitar,date,waist\nA,2025-03-01,1.9\n")
    ((problem, _),) = sheet("guitar,date,waist\nA,2025-03-01,1.9\nchecked by me\n").malformed
    assert str(problem) == (
        "own.csv, row 3: has 1 of 3 fields; it looks cut in mid-line: delete it if it is but a remark"
    )
