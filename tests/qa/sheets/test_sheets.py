"""A builder's own sheet: what is certain is decided, with why; the rest is asked; nothing is guessed."""

import csv
import datetime as dt

import openpyxl
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qa.errors import LogError, PlanError, ShopError
from qa.logs.loading import load
from qa.logs.sheets.dates import date_orders, iso_date, iso_time
from qa.logs.sheets.keeping import keep_layout, kept_layout, read_layout
from qa.logs.sheets.layout import DATES, DECIMAL, Layout
from qa.logs.sheets.meaning import Meaning, guess, is_known, read_meaning
from qa.logs.sheets.names import plain, plan_names
from qa.logs.sheets.rows import OwnSheet
from qa.logs.sheets.settling import settle
from qa.logs.sheets.sheet import Exact, clean, read_sheet
from qa.logs.sheets.units import decimal_mark, ungrouped, unit_of, unit_that_fits, without_unit
from tests.qa.sheets.common import SAME, rows_of

WIDE = "guitar,piece,date,Bottom Left,bottom right,TOP-LEFT,top_right\n"
EDITED = """\
[columns]
"guitar no" = "build"
waist = "value, station waist"
by = "leave"
[same]
unit = "in"
[names]
TB = "side"
"""


@pytest.mark.parametrize(
    ("name", "meaning", "certain"),
    [
        ("Taken At", "taken_at", True),
        ("RH_percent", "rh_percent", True),
        ("\u2060bench", "bench", True),
        ("Instrument no.", "build", False),
        ("date measured", "taken_at", False),
        ("thk (mm)", "value, unit mm", False),
        ("thickness", "value, characteristic thickness", True),
        ("Top Left", "value, station top-left", True),
        ("tail block  thickness", "value, part tail-block, characteristic thickness", True),
        ("Thickness, top-left [in]", None, False),
        ("thickness top_left (inches)", "value, characteristic thickness, station top-left, unit in", True),
        ("waist thou", "value, station waist, unit thou", True),
        ('waist "', "value, station waist, unit in", True),
        ("Moisture %", "value, characteristic moisture, unit %", True),
        ("taper", "leave", True),
        ("temp", None, False),
        ("temp °C", "temp_c", False),
        ("checked in", None, False),
        ("Höhe", None, False),
    ],
)
def test_what_a_columns_name_makes_of_it(names, name, meaning, certain):
    """Names of the log and the plan are certain, whatever their case and spaces; the trade's are not."""
    found = guess(clean(name), ["18.0"], names)
    assert (found.meaning and str(found.meaning), found.certain) == (meaning, certain)
    assert found.meaning is None or read_meaning(str(found.meaning), names) == found.meaning


def test_an_instrument_is_what_is_built_or_what_measures(names):
    """Only the shop's own instruments settle it; a text without numbers is proposed by what it holds."""
    assert guess("Instrument", ["CAL-1"], names, ("CAL-1",)).certain
    assert guess("Instrument", ["OM-07"], names, ("CAL-1",)).meaning is None
    assert str(guess("by whom", ["me", "她"], names).meaning) == "leave"
    assert str(guess("by what", ["CAL-1"], names, ("CAL-1",)).meaning) == "instrument"
    assert str(guess("bit", ["Tail Block", "side"], names).meaning) == "part"
    assert guess("bit", ["side", "TB"], names).meaning is None


def test_a_column_said_to_be_readings_keeps_the_unit_in_its_name(names):
    """Unless another is said; a column of something else has none."""
    layout = Layout()
    for name, said in (("low end (in)", "waist"), ("w, mm", "value, unit in"), ("by (in)", "note")):
        layout = layout.with_("columns", name, said, names)
    assert [str(meaning) for meaning in layout.columns.values()] == [
        "value, station waist, unit in", "value, unit in", "note",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("thick", "is none of"),
        ("build, unit mm", "only a value"),
        ("value, station nowhere", "no station"),
        ("value, unit furlong", "not a unit"),
        ("value, unit mm, unit in", "says unit twice"),
        ("", "is none of"),
    ],
)
def test_words_that_are_no_meaning(names, said, why):
    """What is wrong, and what may be said."""
    with pytest.raises(ShopError, match=why):
        read_meaning(said, names)


def test_names_are_matched_only_where_certain(plan_text, names):
    """Case, spaces, hyphens and the plan's title; initials are not, nor what two names are written like."""
    from qa.plans.plan import read_plan

    for text in ("tail-block", "Tail Block", "TAIL_BLOCK", "tail‐block", "Tail  block"):
        assert names.match("part", clean(text)) == "tail-block"
    assert [names.match("part", text) for text in ("TB", "tailblock", "block", "")] == [None] * 4
    two = plan_names([read_plan(plan_text.replace("[parts.side", "[parts.tail_block"), "p.toml")])
    assert two.match("part", "TAIL BLOCK") is None
    assert two.match("part", "tail_block") == "tail_block"
    assert plain("Straße") == plain("STRASSE")


@pytest.mark.parametrize(
    ("texts", "orders", "isos"),
    [
        (["2025-03-04", "20250304T0930"], [], ["2025-03-04", "20250304T0930"]),
        (["2025/3/4", "4 Mar 2025", "March 4th, 2025", "4-Mar-2025"], [], ["2025-03-04"] * 4),
        (["03/04/2025", "13/04/2025"], ["day first"], ["2025-04-03", "2025-04-13"]),
        (
            ["03.04.2025 9:05", "04.13.2025 2:05 pm"],
            ["month first"],
            ["2025-03-04T09:05:00", "2025-04-13T14:05:00"],
        ),
        (["04/04/2025"], ["day first"], ["2025-04-04"]),
        (["03-Mar-25", "3-Mar-25"], ["day first"], ["2025-03-03"] * 2),
        (["soon", "2025-13-45", "31/31/2025"], [], ["soon", "2025-13-45", "31/31/2025"]),
    ],
)
def test_dates_that_are_certain(texts, orders, isos):
    """By themselves, or because some row has a 13th month in every other order."""
    assert date_orders(texts)[0] == orders
    assert [iso_date(text, (orders or [""])[0]) for text in texts] == isos


@pytest.mark.parametrize(
    ("texts", "orders"),
    [
        (["03/04/2025", "05/06/2025"], {"day first", "month first"}),
        (["13/04/2025", "04/13/2025"], {"day first", "month first"}),
        (["01/02/03"], {"day first", "month first", "year first"}),
        (["25/12/24"], {"day first", "year first"}),
    ],
)
def test_dates_that_are_asked(texts, orders):
    """Where more than one order would do, or rows contradict each other."""
    found, example = date_orders(texts)
    assert set(found) == orders
    assert example


@given(st.dates(dt.date(2000, 1, 1), dt.date(2099, 12, 31)), st.sampled_from("./- "))
def test_a_date_is_never_another_day(day, sign):
    """What an order makes of a date written in it is that date; asked whenever the two orders differ."""
    text = f"{day.day}{sign}{day.month}{sign}{day.year}"
    _, example = date_orders([text])
    assert bool(example) == (day.day <= 12 and day.day != day.month)
    assert iso_date(text, "day first") == day.isoformat()
    assert iso_date(f"{day:%m/%d/%Y}", "month first") == day.isoformat()


def test_times_of_day():
    """Of twelve or twenty-four hours; anything else is none."""
    assert [iso_time(t) for t in ("9:30", "12.05 am", "12:05 p.m.", "23:59:59")] == [
        "09:30:00", "00:05:00", "12:05:00", "23:59:59",
    ]  # fmt: skip
    assert [iso_time(t) for t in ("25:00", "9:60", "13:00 pm", "noon", "")] == [""] * 5


@pytest.mark.parametrize(
    ("texts", "mark", "asked", "read"),
    [
        (["18.02", "1.250"], "", "", ["18.02", "1.250"]),
        (["18,02", "17,9"], "comma", "", ["18,02", "17,9"]),
        (["0,125", "18"], "comma", "", ["0,125", "18"]),
        (["1,250.5", "1,250"], "point", "", ["1250.5", "1250"]),
        (["1.250,5 mm", "1.250"], "comma", "", ["1250,5 mm", "1250"]),
        (["18,02", "18.02"], "", "", ["18,02", "18.02"]),
        (["1,250"], "", "1,250", None),
        (["1,250", "18.02"], "", "1,250", None),
        (["18,02", "1.250"], "", "1.250", None),
        ([Exact("18.125"), "18,02"], "comma", "", ["18.125", "18,02"]),
    ],
)
def test_decimal_marks(texts, mark, asked, read):
    """A comma that may part thousands is asked; what is a number of its file is never read anew."""
    assert decimal_mark(texts) == (mark, asked)
    if read:
        assert [ungrouped(text, mark) for text in texts] == read


def test_units_that_are_certain():
    """Every size near its limits in one unit and none in the other; units as makers write them."""
    near = (17.85, 18.15)
    assert unit_that_fits([("18.02", near), ("18,4", near)]) == "mm"
    assert unit_that_fits([("0.709", near), (".71", near)]) == "in"
    for sizes in ([("18.02", near), ("0.709", near)], [("26", near)], [("18", near), ("0.02", None)], []):
        assert unit_that_fits(sizes) == ""
    assert unit_that_fits([("0.1", (-3.0, 3.0))]) == ""
    assert [unit_of(w) for w in ("Inches", "cm", "″", "mm", "no", "")] == ["in", "cm", "in", "mm", None, None]
    assert without_unit("size in mm") == ("size", "mm")


def test_a_wide_sheet_is_one_row_for_each_reading(sheet, settled, names):
    """Columns named after stations; blank cells were not read; the plan tells the characteristic."""
    read = sheet(
        WIDE
        + "PG-01,Tail Block ,2025-03-01,18.02,18.01,,18.04\n,,,,,,\nPG-02,tail-block,2025-03-02,,,18.05,\n"
    )
    found, questions = settled(read)
    assert questions == {}
    assert found.layout.same["unit"] == "mm"
    assert "none in the other unit" in found.why["same", "unit"]
    rows, malformed = rows_of(OwnSheet(read, found.layout, names))
    assert malformed == []
    assert [row[:8] for row in rows] == [
        ("2025-03-01", "PG-01", "tail-block", "thickness", "bottom-left", "18.02", "mm", "CAL-1"),
        ("2025-03-01", "PG-01", "tail-block", "thickness", "bottom-right", "18.01", "mm", "CAL-1"),
        ("2025-03-01", "PG-01", "tail-block", "thickness", "top-right", "18.04", "mm", "CAL-1"),
        ("2025-03-02", "PG-02", "tail-block", "thickness", "top-left", "18.05", "mm", "CAL-1"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "key", "choices"),
    [
        ("guitar,piece,date,waist\nA,TB,2025-03-01,1.9\n", ("names", "TB"), ("tail-block", "side", "leave")),
        ("guitar,date,thickness\nA,2025-03-01,1.9\n", ("same", "part"), ("tail-block", "side")),
        (
            "guitar,piece,date,reading\nA,side,2025-03-01,1.9\n",
            ("same", "characteristic"),
            ("thickness", "moisture"),
        ),
        ("guitar,date,waist\nA,03/04/2025,1.9\n", ("same", "dates"), ("day first", "month first")),
        ('guitar,date,waist\nA,2025-03-01,"1,900"\n', ("same", "decimal"), ("point", "comma")),
        ("guitar,date,waist\nA,2025-03-01,3.9\n", ("same", "unit"), ("mm", "in")),
        ("guitar,date,waist,squareness\nA,2025-03-01,1.9,0.02\n", ("same", "unit"), ("mm", "in")),
        ("guitar,date,waist,tip\nA,2025-03-01,1.9,2.0\n", ("columns", "tip"), ()),
        ("guitar,serial,date,waist\nA,1,2025-03-01,1.9\n", ("columns", "serial"), ()),
        ("guitar,waist\nA,1.9\n", ("same", "taken_at"), ()),
        ("piece,date,waist\nside,2025-03-01,1.9\n", ("same", "build"), ()),
        ("guitar,date,by\nA,2025-03-01,me\n", ("columns", ""), ()),
        ("guitar,date,waist,Waist (mm)\nA,2025-03-01,1.9,1.9\n", ("columns", "Waist (mm)"), ()),
    ],
)
def test_what_is_not_certain_is_asked(sheet, settled, text, key, choices):
    """One question for each thing, with what it may be; nothing is decided in its place."""
    found, questions = settled(sheet(text))
    assert questions[key].choices == choices
    assert key[1] not in getattr(found.layout, key[0]) or key[1] == "Waist (mm)"


@pytest.mark.parametrize(
    ("text", "units"),
    [
        (
            "guitar,date,waist (thou),Moisture\nA,2025-03-01,75,8.1\nB,2025-03-01,1.9 mm,8.2 %\n",
            [("75 thou", ""), ("8.1", ""), ("1.9 mm", "thou"), ("8.2 %", "")],
        ),
        (
            "guitar,date,waist,moisture\nA,2025-03-01,1.9,8.1\nB,2025-03-01,0.075 in,\nC,2025-03-01,5/64,\n",
            [("1.9", "mm"), ("8.1", ""), ("0.075 in", ""), ("5/64", "")],
        ),
        (
            "guitar,date,waist,units\nA,2025-03-01,1.9,Millimetres\nB,2025-03-01,0.075,inches\nC,2025-03-01,.19,cm\n",
            [("1.9", "mm"), ("0.075", "in"), (".19 cm", "")],
        ),
    ],
)
def test_units_said_by_column_row_and_cell(sheet, settled, names, text, units):
    """A header says it for its column, a column for its row; a cell that says its own; per cent stays so."""
    read = sheet(text)
    found, questions = settled(read)
    assert questions == {}
    rows, _ = rows_of(OwnSheet(read, found.layout, names))
    assert [row[5:7] for row in rows] == units


def test_a_time_of_day_beside_the_date(sheet, settled, names):
    """Joined to the date of its row, or of every row; what is no time is no moment either."""
    dated = "guitar,time,date,waist\nA,9.05 am,3 Mar 2025,1.9\nA,noon,3 Mar 2025,1.9\n"
    bare = "guitar,time,waist\nA,9:05,1.9\nA,noon,1.9\n"
    for text, same in ((dated, {}), (bare, {"taken_at": "2025-03-03"})):
        read = sheet(text)
        found, questions = settled(read, **same)
        assert questions == {}
        rows, _ = rows_of(OwnSheet(read, found.layout, names))
        assert [row[0] for row in rows] == ["2025-03-03T09:05:00", "2025-03-03Tnoon"]


def test_problems_name_the_builders_own_row_and_column(sheet, settled, names, shop, sqlite_store):
    """Row, column and cell as the sheet has them, and all or nothing as ever."""
    read = sheet(
        "My log,,,,,,\n"
        + WIDE
        + "PG-01,side,2025-03-01,18.02,,,\nPG-01,tail-block,03/14/2025,18.02,thick,,\n"
        "PG-02,tail-block,2025-03-02,=A1+B1,457.2,,18.04\nPG-03,tail-block,2025-03-02\n"
    )
    found, _ = settled(read, unit="mm", dates="day first")
    result = load([OwnSheet(read, found.layout, names)], shop, sqlite_store)
    assert {(p.row, p.column, p.value) for p in result.problems} == {
        (3, "Bottom Left", "bottom-left"), (4, "bottom right", "thick"), (4, "date", "03/14/2025"),
        (5, "Bottom Left", "=A1+B1"), (5, "bottom right", "457.2"), (6, "", ""),
    }  # fmt: skip
    why = {(p.row, p.column): p.why for p in result.problems}
    assert why[4, "date"] == "is not a date, day first"
    assert "formula" in why[5, "Bottom Left"]
    assert "25.4 times" in why[5, "bottom right"]
    assert (result.loaded, sqlite_store.readings()) == (0, [])


@pytest.mark.parametrize(
    ("content", "why"),
    [
        ("", "is empty"),
        ("\n,,\n", "is empty"),
        ("one title\n", "names no columns"),
        ("guitar,date,waist\n", "a header and no row"),
        ("guitar,date,waist,date\nA,2025-03-01,1.9,x\n", "row 1, date: the header names it twice"),
        (
            "guitar,date,waist,,\nA,2025-03-01,1.9,1.8,\n",
            "row 1, column 4: has no name: is it a merged cell?",
        ),
        (
            "A,2025-03-01,1.9\nguitar,date,waist\nB,2025-03-01,1.9\n",
            "row 1: has readings above its header in row 2",
        ),
        ('guitar,date,waist,note\nA,2025-03-01,1.9,"ope\nB,2025-03-01,1.9,x\n', "cannot be read"),
        ("guitar,date\n".encode("utf-16"), "UTF-16"),
        ("guitar,date\nJosé,1\n".encode("latin-1"), "not UTF-8"),
        ("guitar,waist\nA," + "9" * 10_001 + "\n", "a text of 10001 signs"),
    ],
)
def test_sheets_that_cannot_be_read(sheet, content, why):
    """One problem that names the file, the row and what to mend."""
    with pytest.raises(LogError) as caught:
        sheet(content)
    assert why in str(caught.value)
    assert str(caught.value).startswith("own.csv")


def test_rows_that_cannot_be_read_are_named(sheet):
    """Cut in mid-line, a cell without a header, a zero byte, a last line that may be cut."""
    read = sheet(
        "guitar,date,waist\nA,2025-03-01\nB,2025-03-01,1.9,2\nC\x00,2025-03-01,1.9\n,,,\nD,2025-03-01,1.9\nE,2025-03-01,1."
    )
    assert [problem.row for problem, _ in read.malformed] == [2, 3, 4, 7]
    assert [number for number, _ in read.rows] == [6]


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_a_header_below_a_title_with_hidden_signs(sheet, sign):
    """Found by its names, whatever parts the cells; spaces of all sorts, byte order mark, any script."""
    text = "Log of 2025\n\nguitar#piece#date#\u00a0 waist \u200b#備考\nギター 1#side#2025-03-01#1,9#良い\n"
    read = sheet("\ufeff" + text.replace(",", "." if sign == "," else ",").replace("#", sign))
    assert (read.header_row, read.columns) == (3, ("guitar", "piece", "date", "waist", "備考"))
    assert read.rows[0][0] == 4
    assert read.rows[0][1][0] == "ギター 1"


def test_workbooks_and_tables(tmp_path, sheet, names, settled):
    """Real dates, numbers and per cents need no guess; a formula without its result is none; merged names."""
    book = openpyxl.Workbook()
    for row in (
        ["Blocks and sides"], ["guitar", "piece", "date", "waist", "moisture"],
        ["A", "Side", pd.Timestamp("2025-04-03"), 1.9, 0.081],
        ["B", "side", dt.date(2025, 4, 3), 1.91, "=D3*2"],
    ):  # fmt: skip
        book.active.append(row)
    book.active["E3"].number_format = "0.0%"
    book.save(tmp_path / "own.xlsx")
    read = read_sheet(tmp_path / "own.xlsx", lambda word: is_known(word, names))
    found, questions = settled(read)
    assert questions == {}
    rows, _ = rows_of(OwnSheet(read, found.layout, names))
    assert [(row[0], *row[3:7]) for row in rows] == [
        ("2025-04-03T00:00:00", "thickness", "waist", "1.9", "mm"),
        ("2025-04-03T00:00:00", "moisture", "", "8.1 %", ""),
        ("2025-04-03T00:00:00", "thickness", "waist", "1.91", "mm"),
        ("2025-04-03T00:00:00", "moisture", "", "=D3*2", ""),
    ]
    book.active.merge_cells("D2:E2")
    book.save(tmp_path / "merged.xlsx")
    with pytest.raises(LogError, match="column 5: has no name: is it a merged cell"):
        read_sheet(tmp_path / "merged.xlsx", lambda word: is_known(word, names))
    frame = pd.DataFrame(
        {"guitar": ["A"], "date": [pd.Timestamp("2025-04-03")], "waist": [1.9], "by": [None]}
    )
    frame.to_parquet(tmp_path / "own.parquet")
    read = read_sheet(tmp_path / "own.parquet", lambda word: is_known(word, names))
    assert read.rows == ((2, ("A", "2025-04-03T00:00:00", "1.9", "")),)


def test_a_layout_is_kept_and_found_by_its_columns(tmp_path, names):
    """In any order; but for what its readings are of; what is new is added, and comments stay."""
    columns = {
        "a b": Meaning("build"),
        'waist "': Meaning("value", {"station": "waist", "unit": "in"}),
        "ö": Meaning("leave"),
    }
    layout = Layout(columns, {"part": "side", "unit": "in", "taken_at": "2025-03-01"}, {"TB": "tail-block"})
    assert keep_layout(tmp_path, layout, "März/2025", also=["part"]) == "sheets/März-2025.toml"
    assert keep_layout(tmp_path, Layout({"x": Meaning("value")}), "März/2025") == "sheets/März-2025-2.toml"
    path = tmp_path / "sheets" / "März-2025.toml"
    assert "Asked for each file, unless it stands under [same]: taken_at" in path.read_text()
    kept = kept_layout(tmp_path, ["ö", "a b", 'waist "'], names)
    assert (kept.columns, kept.same, kept.names) == (columns, {"part": "side", "unit": "in"}, layout.names)
    assert kept_layout(tmp_path, ["a b", "ö"], names) is None
    path.write_text("# mine\n" + path.read_text().replace("[names]", "[names] # mine too"))
    more = kept.with_("names", "S", "side", names).with_("same", "build", "A", names)
    assert keep_layout(tmp_path, more, "x") == "sheets/März-2025.toml"
    text = path.read_text()
    assert text.startswith("# mine")
    assert "# mine too" in text
    assert kept_layout(tmp_path, list(columns), names).names == {"TB": "tail-block", "S": "side"}
    path.with_name("z.toml").write_text(text)
    with pytest.raises(PlanError, match="same columns as sheets/März-2025"):
        kept_layout(tmp_path, list(columns), names)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"build"', '"biuld"', '2: columns.guitar no: "biuld" is none of'),
        ('"build"', "7", "2: columns.guitar no: must be text"),
        ("station waist", "station belly", "3: columns.waist: no station is called"),
        ('"leave"', '"build"', "4: columns.by: holds build, and so does 'guitar no'"),
        ('unit = "in"', 'unit = "ell"', "6: same.unit: the unit of every row"),
        ('unit = "in"', 'dates = "?"', "6: same.dates: is not decided yet"),
        ('unit = "in"', 'build = "A"', "6: same.build: is not the same in every row"),
        ('unit = "in"', 'weather = "A"', "6: same.weather: 'weather' is none of"),
        ('TB = "side"', 'TB = "cello"', "8: names.TB: no part, characteristic or station"),
        ("[names]", "[names", "7: is not valid TOML"),
        ("[names]", "[nmaes]", "7: nmaes: is no table"),
        ("[columns]", "sheet = 2\n[columns]", "1: sheet: must be text"),
    ],
)
def test_a_layout_edited_badly_is_named_with_its_line(names, old, new, told):
    """File, line, key and why."""
    assert read_layout(EDITED, "sheets/a.toml", names).of("build") == "guitar no"
    with pytest.raises(PlanError) as caught:
        read_layout(EDITED.replace(old, new), "sheets/a.toml", names)
    assert str(caught.value).startswith(f"sheets/a.toml:{told}".replace('"biuld"', "'biuld'"))


NUMBER = st.integers(17_700, 18_300)
ROWS = st.lists(
    st.tuples(
        st.dates(dt.date(2024, 1, 1), dt.date(2025, 12, 31)), st.sampled_from(["PG-01", "Ü 2"]),
        NUMBER, NUMBER,
        st.one_of(st.none(), NUMBER), st.one_of(st.none(), NUMBER),
    ),
    min_size=1, max_size=6, unique_by=lambda row: row[:2],
)  # fmt: skip
STATIONS = ("bottom-left", "bottom-right", "top-left", "top-right")


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(ROWS, st.data())
def test_a_log_renamed_and_turned_comes_back_the_same(tmp_path, names, rows, data):
    """Whatever the columns are called, in any order, wide or long, in mm or inches, with point or comma."""
    draw = lambda *among: data.draw(st.sampled_from(among))  # noqa: E731
    in_inches, comma, sign = draw(True, False), draw(True, False), draw(";", "\t")
    day = draw("%d.%m.%Y", "%m/%d/%Y", "%Y-%m-%d", "%d %b %Y")
    wide = draw(True, False)

    def written(thousandths):
        text = f"{thousandths / 25_400:.6f}" if in_inches else f"{thousandths / 1000:.3f}"
        return text.replace(".", ",") if comma else text

    head = {
        "build": draw("guitar", "BUILD", "serial no"),
        "taken_at": draw("date", "Taken_At"),
        "part": draw("piece", "Part"),
    }
    stations = {
        name: data.draw(st.sampled_from([name, name.upper(), name.replace("-", " "), f"thickness {name}"]))
        for name in STATIONS
    }
    long, table = [], []
    for date, build, *values in rows:
        shared = {head["build"]: build, head["taken_at"]: date.strftime(day), head["part"]: "Tail block"}
        found = {s: written(v) for s, v in zip(STATIONS, values, strict=True) if v is not None}
        long += [(date.isoformat(), build, "tail-block", "thickness", s, text) for s, text in found.items()]
        if wide:
            table.append(shared | {stations[s]: text for s, text in found.items()})
        else:
            table += [shared | {"where": s.title(), "thickness": text} for s, text in found.items()]
    columns = data.draw(
        st.permutations([*head.values(), *(stations.values() if wide else ("where", "thickness"))])
    )
    path = tmp_path / "turned.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="", delimiter=sign)
        writer.writeheader()
        writer.writerows(table)
    read = read_sheet(path, lambda word: is_known(word, names))
    given = Layout(same=SAME)
    order = {"%d": "day first", "%m": "month first"}.get(day[:2], "day first")
    found = settle(read, settle(read, given, names).proposed(names), names)
    answers = {DATES: order, DECIMAL: "comma" if comma else "point", "unit": "in" if in_inches else "mm"}
    for question in found.questions:  # only what is not certain may be asked, and the truth is an answer
        assert question.key in {("same", DATES), ("same", DECIMAL), ("same", "unit")}
        found = settle(read, found.layout.with_(*question.key, answers[question.key[1]], names), names)
    assert found.questions == ()
    got, malformed = rows_of(OwnSheet(read, found.layout, names))
    assert malformed == []
    assert sorted((*row[:6], row[6]) for row in got) == sorted((*row, answers["unit"]) for row in long)
