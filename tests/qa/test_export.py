"""Tables for other programs: exact, explained, harmless in a spreadsheet, and loadable again."""

import csv
import datetime as dt
import io
import json
from dataclasses import fields, replace
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from qa.errors import QaError, ShopError
from qa.export.data_dictionary import TABLES, column_types, dictionary
from qa.export.files import write_file, write_text
from qa.export.guard import DANGEROUS, guard
from qa.export.tables import table
from qa.logs.loading import load
from qa.plans.plan import Plan
from qa.record import BenchEvent, BenchReading, standing, utc
from qa.shop import Shop, load_shop
from qa.store.store import Store, open_store

START = dt.datetime(2026, 3, 2, 10, tzinfo=dt.UTC)
PLACES = ("bottom-left", "bottom-right", "top-left", "top-right")
EVIL = ("=1+1", "+1", "-1", "@SUM(A1)", "\tx", "'tis fine", "plain", "", '=HYPERLINK("http://x")', "''=1")


def reading(number: int, mm: float = 18.0, build: str = "B-1", **other: object) -> BenchReading:
    """The n-th reading of a tail block's thickness."""
    at = utc(START + dt.timedelta(minutes=number, microseconds=number))
    place = PLACES[number % 4]
    return BenchReading(at, build, "tail-block", "thickness", place, round(mm * 1e6), **other)  # type: ignore[arg-type]


@pytest.fixture
def store(shop: Shop, plan: Plan) -> Store:
    """A store with evil notes, a correction, a withdrawal, a held slip and an override."""
    made = open_store(shop.store_url)
    for number, note in enumerate(EVIL):
        made.append(reading(number, 18 + number / 1000, note=note, rh_percent=45.5, temp_c=-2.5), plan)
    made.append(reading(20, 18.01, corrects=1, why="slipped"), plan)
    made.append(replace(reading(21), millionths=None, corrects=2, why="wrong part"), plan)
    made.append(reading(22, 457.2, held=True, suspect="Inches?"), plan)
    made.append(reading(23, -0.000125 + 18, build="-B 2"), plan)
    made.add_event(BenchEvent(utc(START), "override", "B-1", "tail-block", text="=cmd", body={"n": 1.5}))
    return made


def fresh(folder: Path, beside: Path) -> Shop:
    """A second shop with the same plans and no readings."""
    (beside / "plans").mkdir(parents=True)
    for name in ("shop.toml", "plans/parlour-guitar.toml"):
        (beside / name).write_text((folder / name).read_text(encoding="utf-8"), encoding="utf-8")
    return load_shop(beside)


def as_csv(what: str, shop: Shop, store: Store) -> list[dict[str, str]]:
    """A table as its CSV reads."""
    stream = io.StringIO()
    write_text(what, table(what, shop, store), stream, "csv")
    return list(csv.DictReader(io.StringIO(stream.getvalue())))


@pytest.mark.parametrize("form", ["csv", "parquet", "xlsx"])
def test_exported_readings_load_again_the_same(
    form: str, shop: Shop, store: Store, folder: Path, tmp_path: Path
) -> None:
    """In a fresh shop they are what stood in the first: exact values, moments, notes and climate."""
    path = tmp_path / f"readings.{form}"
    write_file("readings", table("readings", shop, store), path, form)
    other = fresh(folder, tmp_path / "other")
    with open_store(other.store_url) as second:
        result = load([path], other, second)
        assert result.problems == []
        for build in ("B-1", "-B 2"):
            there, here = standing(second.readings(build)), standing(store.readings(build))
            assert [row.key for row in there] == [replace(row, corrects=None).key for row in here]
            assert [row.note for row in there] == [row.note.strip() for row in here]
            assert [(row.rh_percent, row.temp_c) for row in there] == [
                (row.rh_percent, row.temp_c) for row in here
            ]
        assert load([path], other, second).loaded == 0


def test_what_does_not_count_is_in_the_record_alone(shop: Shop, store: Store) -> None:
    """Readings leave out held, corrected and withdrawn rows; the record keeps each with why."""
    readings, kept = as_csv("readings", shop, store), as_csv("record", shop, store)
    assert len(kept) == 14
    assert len(readings) == 10
    by_sequence = {row["sequence"]: row for row in kept}
    assert by_sequence["1"]["counts"] == "no"
    assert (by_sequence["11"]["corrects"], by_sequence["11"]["why"]) == ("1", "slipped")
    assert (by_sequence["12"]["amount"], by_sequence["12"]["why"]) == ("", "wrong part")
    assert (by_sequence["13"]["held"], by_sequence["13"]["counts"]) == ("yes", "no")


def test_the_record_cannot_be_loaded_as_readings(shop: Shop, store: Store, tmp_path: Path) -> None:
    """Its amounts are not under `value`, so a load of it is refused as a whole."""
    path = tmp_path / "record.csv"
    write_file("record", table("record", shop, store), path, "csv")
    with pytest.raises(QaError, match="value: the header has no such column"):
        load([path], shop, store)


def test_no_cell_of_text_in_csv_begins_a_formula(shop: Shop, store: Store) -> None:
    """No text cell of any table begins with a sign a spreadsheet computes."""
    for what in TABLES:
        texts = [name for name, kind in column_types(what).items() if kind is str]
        for row in as_csv(what, shop, store):
            assert not any(row[name].startswith(DANGEROUS) for name in texts), row


@given(st.lists(st.text(alphabet=st.sampled_from("=+-@'\t\rab 1"), max_size=5), min_size=1, max_size=5))
def test_guarding_is_undone(texts: list[str]) -> None:
    """Whatever a row of text holds, guarded it begins no formula and unguarded it is the same."""
    made, guarded = guard(texts)
    assert not any(text.startswith(DANGEROUS) for text in made)
    assert ([text.removeprefix("'") for text in made] if guarded else made) == texts


def test_text_in_xlsx_stays_text(shop: Shop, store: Store, tmp_path: Path) -> None:
    """A note that looks like a formula is a text cell, marked as such for whoever edits it."""
    path = tmp_path / "readings.xlsx"
    write_file("readings", table("readings", shop, store), path, "xlsx")
    sheet = load_workbook(path)["readings"]
    place = [cell.value for cell in sheet[1]].index("note") + 1
    notes = [sheet.cell(row, place) for row in range(2, sheet.max_row + 1)]
    evil = [cell for cell in notes if str(cell.value).startswith("=")]
    assert {cell.value for cell in evil} == {'=HYPERLINK("http://x")'}
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in evil)


def test_every_column_is_explained(shop: Shop, store: Store) -> None:
    """The dictionary has each column of each table once, with a type and a meaning, in order."""
    told = dictionary()
    assert all(one.meaning and one.type for one in told)
    for what, rows in TABLES.items():
        named = [one.column for one in told if one.table == what]
        assert named == [one.name for one in fields(rows)]
        assert list(as_csv(what, shop, store)[0]) == [*named, "apostrophe_added"]


@pytest.mark.parametrize("form", ["parquet", "jsonl"])
def test_every_table_in_every_form_says_the_same(form: str, shop: Shop, store: Store, tmp_path: Path) -> None:
    """Parquet and JSON Lines hold the values that CSV does, with their types."""
    for what in TABLES:
        path = tmp_path / f"{what}.{form}"
        count = write_file(what, table(what, shop, store), path, form)
        if form == "parquet":
            found = pq.read_table(path).to_pylist()
        else:
            found = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
        texts = as_csv(what, shop, store)
        assert count == len(found) == len(texts)
        for name, kind in column_types(what).items():
            assert all(row[name] is None or isinstance(row[name], kind) for row in found), name
            if kind is float:
                assert [row[name] for row in found] == [float(t[name]) if t[name] else None for t in texts]


def test_drift_and_verdicts_agree(shop: Shop, store: Store) -> None:
    """A series holds the value the verdict on that build has."""
    verdicts = {
        (row["build"], row["characteristic"], row["station"]): row["value"]
        for row in as_csv("verdicts", shop, store)
        if row["value"]
    }
    drift = as_csv("drift", shop, store)
    assert drift
    assert all(verdicts[row["build"], row["characteristic"], row["station"]] == row["value"] for row in drift)


def test_one_build_alone(shop: Shop, store: Store) -> None:
    """--build leaves the others out; an unknown one is told with the near ones."""
    stream = io.StringIO()
    assert write_text("readings", table("readings", shop, store, "-B 2"), stream, "csv") == 1
    with pytest.raises(ShopError, match="no build is called 'B-3'"):
        table("readings", shop, store, "B-3")


def test_an_empty_store_has_the_header_alone(shop: Shop, tmp_path: Path) -> None:
    """Nothing measured yet: each form of each table is a readable file without rows."""
    with open_store(shop.store_url) as store:
        for form in ("csv", "jsonl", "parquet", "xlsx"):
            assert write_file("readings", table("readings", shop, store), tmp_path / f"r.{form}", form) == 0
    assert (tmp_path / "r.csv").read_text(encoding="utf-8").startswith("taken_at,build,part,")
    assert pq.read_table(tmp_path / "r.parquet").num_rows == 0


def test_a_file_that_is_there_is_kept(shop: Shop, store: Store, tmp_path: Path) -> None:
    """It is not replaced unasked, and a table that fails half way leaves it as it was."""
    path = tmp_path / "year-1.csv"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(QaError, match="is there already"):
        write_file("readings", table("readings", shop, store), path, "csv")

    def fails() -> object:
        yield from table("readings", shop, store)
        raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space"):
        write_file("readings", fails(), path, "csv", replace=True)  # type: ignore[arg-type]
    assert path.read_text(encoding="utf-8") == "mine"
    assert list(tmp_path.glob(".year*")) == []
    write_file("readings", table("readings", shop, store), path, "csv", replace=True)
    assert path.read_text(encoding="utf-8").startswith("taken_at")


def test_verdicts_in_doubt_say_so(shop: Shop, store: Store, plan: Plan) -> None:
    """With the check that found the instrument off, and by how much; in the series too."""
    moment = utc(START + dt.timedelta(hours=1))
    for number in range(4):
        row = replace(
            reading(number, 18.0, "B-3", instrument="CAL-1"), taken_at=f"2026-03-02T12:0{number}:00.000000Z"
        )
        store.append(row, plan)
    assert {row["in_doubt"] for row in as_csv("verdicts", shop, store)} == {""}
    body = {"reference": 18.0, "reading": 18.06}
    store.add_event(BenchEvent(moment.replace("T11", "T13"), "check", instrument="CAL-1", body=body))
    for what in ("verdicts", "drift"):
        rows = [
            row for row in as_csv(what, shop, store) if row["characteristic"] == "thickness" and row["value"]
        ]
        doubted = {row["build"] for row in rows if row["in_doubt"].startswith("CAL-1 read 0.06 mm")}
        assert doubted == {"B-3"}
        assert {row["off"] for row in rows if row["in_doubt"]} == {"0.06"}
        assert {row["off"] for row in rows if not row["in_doubt"]} == {""}


def test_a_build_whose_plan_is_gone_leaves_the_others_in(shop: Shop, store: Store, folder: Path) -> None:
    """It is told with the reason; asked for alone it is refused."""
    text = (folder / "plans" / "parlour-guitar.toml").read_text(encoding="utf-8")
    other = folder / "plans" / "other.toml"
    other.write_text(text.replace("parlour-guitar", "octave-mandolin"), encoding="utf-8")
    store.append(reading(40, build="OC-1"), load_shop(folder).plan("octave-mandolin"))
    other.unlink()
    for what in ("verdicts", "drift"):
        left_out: list[tuple[str, str]] = []
        rows = [row for some in table(what, shop, store, left_out=left_out) for row in some]
        assert {row.build for row in rows} >= {"B-1"}  # type: ignore[attr-defined]
        ((build, why),) = left_out
        assert (build, "octave-mandolin" in why) == ("OC-1", True)
        with pytest.raises(ShopError, match="OC-1 cannot be judged: no model is called 'octave-mandolin'"):
            list(table(what, shop, store, "OC-1"))
