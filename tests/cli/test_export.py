"""`dryfit export`: where the file goes, in which form, and what is refused."""

import json
from pathlib import Path

import pytest


@pytest.fixture
def measured(dryfit, tmp_path: Path):
    """The small shop with four readings."""
    log = tmp_path / "log.csv"
    rows = [
        f"2026-03-02T09:0{i}:00Z,B-1,tail-block,thickness,{place},18.0{i},mm,CAL-1"
        for i, place in enumerate(("bottom-left", "bottom-right", "top-left", "top-right"))
    ]
    head = "taken_at,build,part,characteristic,station,value,unit,instrument"
    log.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    assert dryfit("load", log, "--quiet").out == ""
    return dryfit


def test_the_ending_chooses_the_form(measured, tmp_path: Path) -> None:
    """A .parquet file is Parquet; without a file the table is CSV in --out."""
    assert measured("export", tmp_path / "x.parquet").status == 0
    assert (tmp_path / "x.parquet").read_bytes()[:4] == b"PAR1"
    (tmp_path / "new" / "readings").mkdir(parents=True)  # a folder of that name is in nobody's way
    assert "4 rows of readings" in measured("export", "--out", tmp_path / "new").out
    assert (tmp_path / "new" / "readings.csv").read_text(encoding="utf-8").count("\n") == 5


@pytest.mark.parametrize(
    ("arguments", "made"),
    [
        (("readings",), "readings.csv"),
        (("march", "--format", "parquet"), "march.parquet"),
        (("record", "--what", "record"), "record.csv"),
        (("march.txt", "--format", "csv"), "march.txt"),
        (("MARCH.CSV",), "MARCH.CSV"),
    ],
)
def test_a_name_without_an_ending_is_given_one(
    measured, tmp_path: Path, monkeypatch, arguments: tuple[str, ...], made: str
) -> None:
    """That of its form; another ending is kept where the form is said."""
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    assert measured("export", *arguments).out.endswith(f" to {made}.\n")
    assert [path.name for path in Path().iterdir()] == [made]


def test_stdout_holds_the_table_and_nothing_else(measured) -> None:
    """A dash writes CSV or JSON Lines to stdout."""
    lines = measured("export", "-", "--what", "verdicts", "--format", "jsonl").out.splitlines()
    assert [json.loads(line)["verdict"] for line in lines][:4] == ["conforms"] * 4
    assert measured("export", "-").out.startswith("taken_at,")


def test_quiet_says_nothing(measured, tmp_path: Path) -> None:
    """--quiet writes the file and says nothing."""
    answer = measured("export", tmp_path / "x.csv", "-q")
    assert (answer.status, answer.out, answer.err) == (0, "", "")


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("there.csv",), "is there already"),
        (("x.csv", "--format", "xlsx"), "ends like csv, but --format says xlsx"),
        (("x.csv", "--out", "y"), "either a file or --out"),
        (("-", "--format", "parquet"), "parquet is not text"),
        (("x.csv", "--build", "B-9"), "no build is called 'B-9'"),
        (("x.csv", "--what", "colours"), "colours"),
        (("there",), "there.csv is there already"),
        (("record",), "record is the name of a table: take --what record, or call the file record.csv"),
        (
            ("x.txt",),
            "x.txt ends like none of .csv, .parquet, .xlsx, .jsonl: take one of them, or say --format",
        ),
        (("folder",), "folder is a folder: name a file in it, or give it as --out"),
        (("folder", "--force"), "folder is a folder"),
    ],
)
def test_refusals(
    measured, refused, tmp_path: Path, monkeypatch, arguments: tuple[str, ...], why: str
) -> None:
    """What cannot be written is refused in one line, and nothing is written."""
    monkeypatch.chdir(tmp_path)
    Path("there.csv").write_text("mine", encoding="utf-8")
    Path("folder").mkdir()
    before = sorted(tmp_path.rglob("*"))
    assert why in refused("export", *arguments)
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("what", ["verdicts", "drift"])
def test_a_build_that_cannot_be_judged_is_left_out_and_named(
    measured, folder: Path, tmp_path: Path, what
) -> None:
    """The others are written; one line on stderr says which is not, and the exit status is 2."""
    plan = folder / "plans" / "parlour-guitar.toml"
    other = folder / "plans" / "other.toml"
    other.write_text(
        plan.read_text(encoding="utf-8").replace("parlour-guitar", "octave-mandolin"), encoding="utf-8"
    )
    row = "2026-03-02T09:00:00Z,OC-1,tail-block,thickness,top-left,18.0,mm,CAL-1"
    log = tmp_path / "other.csv"
    log.write_text(
        f"taken_at,build,part,characteristic,station,value,unit,instrument\n{row}\n", encoding="utf-8"
    )
    assert measured("load", log, "--model", "octave-mandolin").status == 0
    other.unlink()
    answer = measured("export", tmp_path / "x.csv", "--what", what)
    assert answer.status == 2
    why = "no model is called 'octave-mandolin'; known: parlour-guitar"
    assert answer.err == f"dryfit: OC-1 cannot be judged and is left out: {why}\n"
    assert f"rows of {what} to" in answer.out
    assert "B-1" in (tmp_path / "x.csv").read_text(encoding="utf-8")
    said = measured("export", "-", "--what", what)
    assert (said.status, said.err) == (2, answer.err)
    assert "B-1" in said.out
