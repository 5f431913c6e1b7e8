"""Loading checks every row and stores all of a log or nothing; the same log twice adds nothing."""

import csv
import datetime as dt
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qa.errors import QaError, ShopError
from qa.logs import csv_files as log_csv
from qa.logs import files
from qa.logs import piece as log_piece
from qa.logs.form import well_formed
from qa.logs.loading import load
from qa.store.store import open_store

BLOCK = "PG-01,tail-block,thickness"


@pytest.fixture
def loads(shop, store):
    """Loads logs into a store of the small shop."""

    def run(*paths, **options):
        return load(list(paths), shop, store, **options)

    run.store = store
    return run


def told(result):
    """The problems as (row, column, why)."""
    return [(problem.row, problem.column, problem.why) for problem in result.problems]


def test_good_rows_are_stored_exactly(shop, store, log, good_row):
    """On SQLite and PostgreSQL alike: amounts in whole nanometres, times in UTC, text as entered."""
    inch = "2025-03-01T10:00:00+01:00," + BLOCK + ",top-left,0.7087,in,CAL-2"
    blank = "2025-03-01T09:05:00," + BLOCK + ",top-left,17.99,,CAL-2"
    mixed = "2025-03-01T09:06:00," + BLOCK + ',top-left,"18,01",mm,CAL-2'
    percent = "2025-03-01T09:07:00,PG-01,side,moisture,,8.1,%,"
    result = load([log(good_row(0), inch, blank, mixed, percent)], shop, store)
    assert (result.rows, result.loaded, result.duplicates, result.rejected) == (5, 5, 0, 0)
    rows = store.readings()
    assert [(row.millionths, row.unit) for row in rows] == [
        (18_020_000, "mm"), (18_000_980, "mm"), (17_990_000, "mm"), (18_010_000, "mm"), (8_100_000, "%"),
    ]  # fmt: skip
    assert rows[1].taken_at == "2025-03-01T09:00:00.000000Z"
    assert [row.as_entered for row in rows] == ["18.02 mm", "0.7087 in", "17.99", "18,01 mm", "8.1 %"]
    assert {row.plan for row in rows} == {shop.plan("parlour-guitar").digest}


def test_the_same_log_twice_adds_nothing(shop, store, log, good_row):
    """Every row is found to be there already."""
    path = log(*map(good_row, range(20)))
    load([path], shop, store)
    again = load([path], shop, store)
    assert (again.rows, again.loaded, again.duplicates, again.problems) == (20, 0, 20, [])
    assert len(store.readings()) == 20


def test_a_longer_log_adds_what_is_new(loads, log, good_row):
    """A log that is kept on and loaded every week."""
    loads(log(*map(good_row, range(20))))
    result = loads(log(*map(good_row, range(30))))
    assert (result.loaded, result.duplicates) == (10, 20)


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.integers(1, 40), st.data())
def test_n_good_rows_load_n(shop, log, good_row, tmp_path_factory, n, data):
    """Whatever their order and however they are cut into files and pieces."""
    rows = data.draw(st.permutations([good_row(number) for number in range(n)]))
    cut = data.draw(st.integers(0, n))
    paths = [log(*some, name=f"{place}.csv") for place, some in enumerate((rows[:cut], rows[cut:])) if some]
    with open_store(f"sqlite:///{tmp_path_factory.mktemp('db')}/s.db") as store:
        result = load(paths, shop, store)
        assert (result.rows, result.loaded, result.problems) == (n, n, [])
        assert len(store.readings()) == n
        again = load(paths, shop, store)
        assert (again.loaded, again.duplicates, len(store.readings())) == (0, n, n)


def test_pieces_make_no_difference(loads, log, good_row, monkeypatch):
    """A repeat is found across pieces and files, and all are loaded or none."""
    monkeypatch.setattr(log_csv, "BYTES_AT_ONCE", 600)
    rows = [good_row(n) for n in range(20)]
    result = loads(log(*rows), log(good_row(25), rows[3], name="b.csv"))
    assert told(result) == [(3, "value", "is the same reading as an earlier row; delete one of the two")]
    assert loads.store.readings() == []
    assert result.loaded == 0
    assert loads(log(*rows)).loaded == 20


@pytest.mark.parametrize(
    ("row", "column", "why"),
    [
        (f"1 March,{BLOCK},top-left,18.0,mm,C", "taken_at", "not a date and time"),
        (f"now,{BLOCK},top-left,18.0,mm,C", "taken_at", "not a date and time"),
        (f",{BLOCK},top-left,18.0,mm,C", "taken_at", "is missing"),
        (f"2025-02-30T09:00,{BLOCK},top-left,18.0,mm,C", "taken_at", "not a date and time"),
        ("2025-03-01T09:00,,tail-block,thickness,top-left,18.0,mm,C", "build", "is missing"),
        ("2025-03-01T09:00,PG-01,tail-blok,thickness,top-left,18.0,mm,C", "part", "known: tail-block"),
        ("2025-03-01T09:00,PG-01,tail-block,thicknes,top-left,18.0,mm,C", "characteristic", "thickness"),
        ("2025-03-01T09:00,PG-01,tail-block,taper,,0.1,mm,C", "characteristic", "computed, not read"),
        (f"2025-03-01T09:00,{BLOCK},top-lef,18.0,mm,C", "station", "known: top-left"),
        (f"2025-03-01T09:00,{BLOCK},,18.0,mm,C", "station", "known:"),
        ("2025-03-01T09:00,PG-01,side,moisture,middle,8.0,%,C", "station", "must be blank"),
        (f"2025-03-01T09:00,{BLOCK},top-left,,mm,C", "value", "is missing"),
        (f"2025-03-01T09:00,{BLOCK},top-left,thick,mm,C", "value", "not a number"),
        (f"2025-03-01T09:00,{BLOCK},top-left,nan,mm,C", "value", "not a number"),
        (f"2025-03-01T09:00,{BLOCK},top-left,inf,mm,C", "value", "not a number"),
        (f"2025-03-01T09:00,{BLOCK},top-left,18.,mm,C", "value", "the record was cut"),
        (f"2025-03-01T09:00,{BLOCK},top-left,99999999999999999999,mm,C", "value", "longer than 10 m"),
        (f"2025-03-01T09:00,{BLOCK},top-left,18.0,furlong,C", "unit", "is not a unit"),
        (f"2025-03-01T09:00,{BLOCK},top-left,18.0,%,C", "unit", "does not fit"),
        (f"2025-03-01T09:00,{BLOCK},top-left,18.0,deg,C", "unit", "does not fit"),
        ("2025-03-01T09:00,PG-01,side,moisture,,8.0,mm,C", "unit", "does not fit"),
        (f'2025-03-01T09:00,{BLOCK},top-left,"18 in",mm,C', "value", "the unit column says mm"),
        (f"2025-03-01T09:00,{BLOCK},top-left,457.2,mm,C", "value", "25.4 times its target"),
        (f"2025-03-01T09:00,{BLOCK},top-left,0.7087,mm,C", "value", "divided by 25.4"),
        (f"2025-03-01T09:00,{BLOCK},top-left,180.2,mm,C", "value", "10 times its target"),
        (f"2025-03-01T09:00,{BLOCK},top-left,1.80,mm,C", "value", "a tenth of its target"),
    ],
)  # fmt: skip
@pytest.mark.filterwarnings("error")
def test_a_bad_row_is_named_and_nothing_is_loaded(loads, log, good_row, row, column, why):
    """File, row, column, value and why; the good rows beside it are not loaded either."""
    result = loads(log(good_row(0), row, good_row(1)))
    (problem,) = result.problems
    assert (problem.file, problem.row, problem.column) == ("log.csv", 3, column)
    assert why in problem.why
    assert (result.loaded, result.rejected) == (0, 1)
    assert loads.store.readings() == []
    assert loads.store.builds() == {}


@pytest.mark.parametrize(
    ("columns", "cells", "column", "why"),
    [
        ("rh_percent", "140", "rh_percent", "0 to 100"),
        ("rh_percent", "damp", "rh_percent", "must be per cent"),
        ("temp_c", "700", "temp_c", "-50 to 80"),
        ("temp_c", "1e999", "temp_c", "must be degrees"),
    ],
)
def test_a_climate_that_cannot_be(loads, log, good_row, columns, cells, column, why):
    """Humidity and temperature are checked as well."""
    path = log(f"{good_row(0)},{cells}", header=f"{','.join(log_piece.REQUIRED)},{columns}")
    (problem,) = loads(path).problems
    assert (problem.row, problem.column) == (2, column)
    assert why in problem.why


def test_a_row_with_two_faults_tells_both_and_is_rejected_once(loads, log):
    """Both columns are named."""
    result = loads(log(f"soon,{BLOCK},top-left,thick,mm,C"))
    assert {problem.column for problem in result.problems} == {"taken_at", "value"}
    assert result.rejected == 1


@pytest.mark.parametrize(
    ("text", "unit", "nanometres"),
    [
        ("18.02", "", 18_020_000), ("18.02 mm", "", 18_020_000), ("1.802 cm", "mm", 18_020_000),
        ("0.7087 in", "", 18_000_980), ("0.7087 in", "in", 18_000_980), ("45/64", "", 17_859_375),
        ("45/64", "in", 17_859_375), ("709 thou", "in", 18_008_600), ("18,02", "MM", 18_020_000),
    ],
)  # fmt: skip
def test_values_as_makers_write_them(loads, log, text, unit, nanometres):
    """The unit beside a value, in it, or the plan's; a bare fraction is in inches."""
    assert loads(log(f'2025-03-01T09:00,{BLOCK},top-left,"{text}",{unit},C')).loaded == 1
    assert loads.store.readings()[0].millionths == nanometres


@pytest.mark.parametrize(
    ("text", "unit", "why"),
    [
        ("45/64", "mm", "the unit column says mm"),
        ("18 mm", "in", "the unit column says in"),
        ("18 %", "", "does not fit"),
        ("18 %", "mm", "a percentage where a length is wanted"),
        ("18 furlong", "", "no unit is called"),
    ],
)
def test_values_whose_units_disagree(loads, log, text, unit, why):
    """Never a wrong number: what the text says and what the column says must be one."""
    result = loads(log(f"2025-03-01T09:00,{BLOCK},top-left,{text},{unit},C"))
    assert [why in problem.why for problem in result.problems] == [True]


def test_rough_stock_is_no_slip(loads, log):
    """Wood well over its target, before planing, is loaded."""
    rows = [f"2025-03-01T09:0{n},{BLOCK},top-left,{v},mm,C" for n, v in enumerate((26, 36, 45, 9))]
    assert loads(log(*rows)).loaded == 4


def test_suspect_sizes_are_loaded_marked_when_accepted(loads, log, good_row):
    """They count, and what was doubted stays with them."""
    slip = f"2025-03-01T09:00,{BLOCK},top-left,0.7087,mm,C"
    assert loads(log(good_row(0), slip), accept_suspect=True).loaded == 2
    marks = [row.suspect for row in loads.store.readings()]
    assert marks[0] == ""
    assert "inches" in marks[1]
    assert not any(row.held for row in loads.store.readings())


def test_rows_given_twice_in_one_log(loads, log, good_row):
    """A duplicate is a problem with its row, not silently dropped."""
    result = loads(log(good_row(0), good_row(1), good_row(0)))
    assert told(result) == [(4, "value", "is the same reading as an earlier row; delete one of the two")]
    assert loads.store.readings() == []


def test_partial_loads_the_good_and_writes_out_the_rest(loads, log, good_row):
    """The rejected file names every reason, and once mended it loads."""
    path = log(good_row(0), "2025,short", f"soon,{BLOCK},top-left,18.01,mm,C", good_row(1), good_row(1))
    result = loads(path, partial=True)
    assert (result.rows, result.loaded, result.rejected) == (5, 2, 3)
    (rejected,) = result.rejected_files
    assert rejected == path.with_name("log.rejected.csv")
    with rejected.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["why"].split(":")[0] for row in rows] == [
        "log.csv, row 3", "log.csv, row 4, taken_at 'soon'", "log.csv, row 6, value '18.02'",
    ]  # fmt: skip
    assert (rows[0]["taken_at"], rows[0]["build"], rows[0]["part"]) == ("2025", "short", "")
    assert (rows[1]["value"], rows[1]["unit"]) == ("18.01", "mm")
    text = rejected.read_text(encoding="utf-8")
    header, _, mended, _ = text.splitlines()
    rejected.write_text(f"{header}\n{mended.replace('soon', '2025-03-02T10:00')}\n", encoding="utf-8")
    assert loads(rejected).loaded == 1


def test_rejects_of_logs_that_differ_in_their_ending_only(loads, log, good_row):
    """Neither is written over the other."""
    paths = [log(good_row(n), f"row {n}", name=f"week.{end}") for n, end in enumerate(("csv", "txt"))]
    result = loads(*paths, partial=True)
    assert [path.name for path in result.rejected_files] == ["week.rejected.csv", "week.txt.rejected.csv"]
    assert ["row 1" in path.read_text() for path in result.rejected_files] == [False, True]


def test_partial_without_a_fault_writes_no_file(loads, log, good_row):
    """Nothing was rejected, so nothing is written beside the log."""
    path = log(good_row(0))
    assert loads(path, partial=True).rejected_files == []
    assert not path.with_name("log.rejected.csv").exists()


def test_partial_stores_nothing_where_the_rejects_cannot_be_written(loads, log, good_row):
    """No row may be lost: without its rejects a log is not loaded."""
    path = log(good_row(0), "short")
    path.with_name("log.rejected.csv").mkdir()
    with pytest.raises(QaError, match="nothing was loaded"):
        loads(path, partial=True)
    assert loads.store.readings() == []


def test_a_header_without_rows_is_refused(loads, log):
    """Most likely the wrong file."""
    with pytest.raises(QaError, match="has a header and no row"):
        loads(log())


def test_a_later_file_that_cannot_be_read_undoes_the_first(loads, log, good_row, tmp_path):
    """All files of one command, or none."""
    with pytest.raises(QaError, match=r"missing\.csv"):
        loads(log(good_row(0)), tmp_path / "missing.csv")
    assert loads.store.readings() == []


def test_very_many_faults_are_counted_and_not_all_told(loads, log, monkeypatch):
    """Memory stays bounded whatever the file."""
    monkeypatch.setattr("qa.logs.loading.KEPT_PROBLEMS", 10)
    result = loads(log(*[f"soon,{BLOCK},top-left,thick,mm,C"] * 50))
    assert result.rejected == 50
    assert len(result.problems) <= 20


def test_csv_with_semicolons_and_decimal_commas(loads, tmp_path, good_row):
    """As a spreadsheet of many countries saves it."""
    path = tmp_path / "log.csv"
    rows = [";".join(log_piece.REQUIRED)] + [good_row(n, value="18.02").replace(",", ";") for n in range(4)]
    path.write_text("\n".join(rows).replace("18.02", "18,02") + "\n", encoding="utf-8")
    assert loads(path).loaded == 4
    assert {row.millionths for row in loads.store.readings()} == {18_020_000}


@pytest.mark.parametrize("suffix", ["parquet", "xlsx"])
def test_other_files_of_the_same_log_give_the_same_store(loads, log, good_row, suffix):
    """Loaded after the CSV they add nothing: every reading is the same one."""
    path = log(*[good_row(n, value=f"{17.9 + n / 100:.2f}") for n in range(20)])
    frame = pd.read_csv(path)
    frame["taken_at"] = pd.to_datetime(frame["taken_at"])
    other = path.with_suffix(f".{suffix}")
    frame.to_parquet(other) if suffix == "parquet" else frame.to_excel(other, index=False)
    loads(path)
    result = loads(other)
    assert (result.loaded, result.duplicates, result.problems) == (0, 20, [])


def test_a_workbook_is_read_once_and_before_anybody_waits(
    folder, store, store_url, log, good_row, plan, plan_text, reading, monkeypatch
):
    """Reading one takes ten times as long as storing it; a bench that stores meanwhile is in the record."""
    from qa.shop import load_shop

    later = plan_text.replace('unit = "mm"', 'unit = "mm"\nsince = 2025-06-01', 1)
    (folder / "plans" / "later.toml").write_text(later, encoding="utf-8")
    path = log(*map(good_row, range(4))).with_suffix(".xlsx")
    pd.read_csv(path.with_suffix(".csv")).to_excel(path, index=False)
    monkeypatch.setattr("qa.store.engine.WAIT_FOR_LOCK_MS", 100)
    with open_store(store_url) as bench:
        read, original = [], files._read_excel

        def reads(path, sheet):
            read.append(bench.append(reading(len(read)), plan))
            return original(path, sheet)

        monkeypatch.setattr(files, "_read_excel", reads)
        result = load([path], load_shop(folder), store)
    assert (result.loaded, result.problems) == (4, [])
    assert (len(read), len(store.readings())) == (1, 5)


def test_a_build_begun_as_another_model(folder, store, log, good_row, plan_text):
    """The rows are refused, with the build and its model named."""
    from qa.shop import load_shop

    other = plan_text.replace("parlour-guitar", "octave-mandolin")
    (folder / "plans" / "other.toml").write_text(other, encoding="utf-8")
    shop = load_shop(folder)
    with pytest.raises(ShopError, match="say which with --model"):
        load([log(good_row(0))], shop, store)
    assert load([log(good_row(0))], shop, store, model="parlour-guitar").loaded == 1
    result = load([log(good_row(1))], shop, store, model="octave-mandolin")
    assert "was begun as 'parlour-guitar'" in result.problems[0].why
    assert load([log(good_row(1))], shop, store).loaded == 1


def test_rows_are_judged_by_the_revision_of_their_build(folder, store, log, good_row, plan_text, monkeypatch):
    """A build begun under one revision stays under it, wherever its earliest row stands in which log."""
    from qa.shop import load_shop

    later = plan_text.replace('unit = "mm"', 'unit = "mm"\nsince = 2025-06-01', 1)
    (folder / "plans" / "later.toml").write_text(later, encoding="utf-8")
    shop = load_shop(folder)
    new = good_row(1, build="PG-02").replace("2025-03", "2025-07")
    late = good_row(2).replace("2025-03", "2025-07")
    load([log(good_row(0), new, late)], shop, store)
    by_build = {(row.build, row.plan) for row in store.readings()}
    old_plan, new_plan = (item.digest for item in shop.plans["parlour-guitar"])
    assert by_build == {("PG-01", old_plan), ("PG-02", new_plan)}

    monkeypatch.setattr(log_csv, "BYTES_AT_ONCE", 600)
    mixed = [good_row(n, build="PG-03").replace("2025-03", "2025-07") for n in range(20)]
    assert load([log(*mixed, good_row(20, build="PG-03"))], shop, store).loaded == 21
    assert {row.plan for row in store.readings("PG-03")} == {old_plan}
    earlier = log(good_row(3, build="PG-02"), name="earlier.csv")
    load([earlier], shop, store)
    assert [row.plan for row in store.readings("PG-02")] == [new_plan, old_plan]


TIMES = [
    ("2025-03-01T09:30", "2025-03-01T08:30:00"),
    ("2025-03-01 09:30:15", "2025-03-01T08:30:15"),
    ("2025-03-01", "2025-02-28T23:00:00"),
    ("2025-03-01T09:30Z", "2025-03-01T09:30:00"),
    ("2025-03-01T09:30+05:30", "2025-03-01T04:00:00"),
    ("2025-03-01T09:30-0500", "2025-03-01T14:30:00"),
    ("2025-03-01T09:30+01", "2025-03-01T08:30:00"),
    ("20250301T093000", "2025-03-01T08:30:00"),
    ("2025-03-30T02:30", "2025-03-30T01:00:00"),
    ("2025-10-26T02:30", "2025-10-26T00:30:00"),
    ("2025-03-01T09:30:00.123456789Z", "2025-03-01T09:30:00.123456"),
]


def test_times_with_and_without_a_zone():
    """In one file together; a time without a zone is the shop's, whatever summer time does to it."""
    raw = pd.DataFrame(
        {name: [""] * len(TIMES) for name in log_piece.COLUMNS} | {"taken_at": [t for t, _ in TIMES]},
        dtype="str",
    )
    found = well_formed(raw, "log.csv", ZoneInfo("Europe/Vienna")).frame["time"]
    assert [moment.to_pydatetime() for moment in found] == [
        dt.datetime.fromisoformat(wanted).replace(tzinfo=dt.UTC) for _, wanted in TIMES
    ]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(*[st.text(max_size=12)] * 8), min_size=1, max_size=4))
def test_rows_of_any_text_are_loaded_or_told(shop, store, tmp_path_factory, rows):
    """Every row that is not stored has its problem; never another exception."""
    path = tmp_path_factory.mktemp("log") / "log.csv"
    with path.open("w", encoding="utf-8", newline="", errors="replace") as file:
        csv.writer(file).writerows([log_piece.REQUIRED, *rows])
    try:
        result = load([path], shop, store)
    except QaError:
        return
    assert result.loaded + result.duplicates + result.rejected <= result.rows
    assert result.problems or result.loaded + result.duplicates == result.rows


@pytest.mark.parametrize(
    ("row", "column"),
    [
        (f"2025-03-01T09:00:00,PG-01,{'x' * 9000},thickness,top-left,18.0,mm,", "part"),
        (f"2025-03-01T09:00:00,{BLOCK},top-left,{'1x' * 4500},mm,", "value"),
        (f"2025-03-01T09:00:00,{BLOCK},top-left,{'1' * 9000}.,mm,", "value"),
        (f"2025-03-01T09:00:00,{BLOCK},top-left,18.0,{'mm ' * 3000},", "unit"),
        (f"{'2025-' * 1800},{BLOCK},top-left,18.0,mm,", "taken_at"),
    ],
)
def test_a_value_of_any_length_is_told_in_one_short_line(loads, log, row, column):
    """Its beginning and how long it is; the problem itself holds it whole."""
    (problem,) = loads(log(row)).problems
    assert problem.column == column
    assert len(problem.value) > 8000
    assert len(str(problem)) < 400
    assert f"{problem.value[:40]}" in str(problem)
    assert "signs)" in str(problem)
