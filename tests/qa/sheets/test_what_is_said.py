"""What is said of a builder's sheet, and by whom: words of a column, times, dates, and no reading at all."""

import pytest

from qa.errors import LogError, ShopError
from qa.logs.loading import load
from qa.logs.sheets.meaning import read_meaning
from qa.logs.sheets.rows import OwnSheet

LOG = "taken_at,build,part,characteristic,station,value,unit,instrument\n"


def problems_of(own, shop, store):
    """What loading says of a sheet, and how many readings it would store."""
    result = load([own], shop, store, partial=True)
    return [str(problem) for problem in result.problems], result.loaded


def test_a_time_that_is_none_is_told_in_its_own_column(sheet, settled, names, shop, sqlite_store):
    """Not as a date that is wrong, whether the date stands beside it or is that of every row."""
    why = "'noon': is not a time of day, such as 9:30 or 2.05 pm"
    for text, same in (
        ("guitar,date,time,waist\nA,2025-03-01,noon,1.9\n", {}),
        ("guitar,time,waist\nA,noon,1.9\n", {"taken_at": "2025-03-01"}),
    ):
        own = OwnSheet(read := sheet(text), settled(read, **same)[0].layout, names)
        assert problems_of(own, shop, sqlite_store) == ([f"own.csv, row 2, time {why}"], 0)
    read = sheet("guitar,date,time,waist\nA,2025-03-01,=B1,1.9\n")
    told, _ = problems_of(OwnSheet(read, settled(read)[0].layout, names), shop, sqlite_store)
    assert told[0].startswith("own.csv, row 2, time '=B1': is a formula whose result is not in the file")
    read = sheet("guitar,date,time,waist\nA,soon,9:30,1.9\n")
    told, _ = problems_of(OwnSheet(read, settled(read)[0].layout, names), shop, sqlite_store)
    assert told[0].startswith("own.csv, row 2, date 'soon': is not a date")


def test_a_ditto_mark_is_no_build(sheet, settled, names, shop, sqlite_store):
    """It stands for a build that only a person can tell; two strokes in a column of units are inches."""
    read = sheet(
        'guitar,date,waist,unit\nA,2025-03-01,.075,""""\n"""",2025-03-01,.076,""""\n〃,2025-03-02,1.9,\n'
    )
    own = OwnSheet(read, settled(read, unit="mm")[0].layout, names)
    why = "is a ditto mark: write out what it stands for"
    assert problems_of(own, shop, sqlite_store) == (
        [f"own.csv, row 3, guitar '\"': {why}", f"own.csv, row 4, guitar '〃': {why}"], 1,
    )  # fmt: skip


def test_a_fraction_that_became_a_date_is_told(sheet, settled, names, shop, sqlite_store):
    """As a spreadsheet makes the 16th of January of 1/16."""
    read = sheet("guitar,date,waist\nA,2025-03-01,2025-01-16T00:00:00\n")
    own = OwnSheet(read, settled(read)[0].layout, names)
    why = "is a date: a spreadsheet makes one of a fraction such as 1/16; write '1/16 in', or a decimal"
    assert problems_of(own, shop, sqlite_store) == (
        [f"own.csv, row 2, waist '2025-01-16T00:00:00': {why}"],
        0,
    )


@pytest.mark.parametrize(
    "words", ["value, parts side", "value, part-side", "value, stationwaist", "value, units in"]
)
def test_words_that_only_begin_like_those_of_a_column_are_refused(names, words):
    """They were taken for words that say nothing, and the part or station was lost."""
    with pytest.raises(ShopError, match="is none of"):
        read_meaning(words, names)


def test_a_date_beside_a_signature_has_no_say_in_the_order(sheet, settled):
    """Only the dates of readings do."""
    read = sheet("guitar,date,waist\nA,2025-03-01,1.9\n,,\nSigned: me,03/04/2025,\n")
    assert settled(read)[1] == {}
    read = sheet("guitar,date,waist\nA,03/04/2025,1.9\n")
    assert list(settled(read)[1]) == [("same", "dates")]


def test_a_sheet_without_a_reading_says_so(sheet, settled, names, shop, sqlite_store, tmp_path):
    """It has rows, so it is no sheet without any; and it says so after another log too."""
    read = sheet("guitar,date,waist\nA,2025-03-01,\n")
    own = OwnSheet(read, settled(read)[0].layout, names)
    log = tmp_path / "log.csv"
    log.write_text(LOG + "2025-03-01,A,side,thickness,waist,1.9,mm,CAL-1\n")
    for logs in ([own], [log, own]):
        with pytest.raises(LogError, match=r"own\.csv: holds no reading: its rows are blank or left out"):
            load(logs, shop, sqlite_store)
    empty = tmp_path / "empty.csv"
    empty.write_text(LOG)
    with pytest.raises(LogError, match=r"empty\.csv: has a header and no row"):
        load([log, empty], shop, sqlite_store)
    assert sqlite_store.readings() == []
