"""`dryfit load` of a builder's own sheet: shown and asked at a terminal, refused without one, and kept."""

import io
import os
import pty
import select
import subprocess
import sys
import time

import openpyxl
import pytest

PATIENCE = 60.0
SHEET = """\
My blocks,,,,,
Instrument no,Piece,Bottom Left,top-left (in),date measured,By
PG-01,Tail Block ,18.02,0.709,03/04/2025,me
PG-02,TB,18.01,0.7087,05/04/2025,me
"""
YES = ("--yes", "--name", "TB=tail-block", "--same", "dates=day first", "--same", "instrument=CAL-1")


@pytest.fixture
def own(tmp_path):
    """Writes a sheet as a builder keeps it."""

    def write(text=SHEET, name="march.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def terminal(command_line):
    """Runs `dryfit load` at a terminal of its own: each answer is typed when its question has been asked."""
    program, environment = command_line

    def talk(*arguments, answers=()):
        keys, its_end = pty.openpty()
        running = subprocess.Popen(
            [*program, "load", *map(str, arguments)], env=environment | {"TERM": "dumb"},
            stdin=its_end, stdout=its_end, stderr=its_end, start_new_session=True,
        )  # fmt: skip
        os.close(its_end)
        said, waiting, end = "", list(answers), time.monotonic() + PATIENCE
        try:
            while time.monotonic() < end:
                if not select.select([keys], [], [], 0.2)[0]:
                    continue
                try:
                    said += os.read(keys, 65536).decode(errors="replace")
                except OSError:  # it has left
                    break
                if waiting and waiting[0][0] in said[said.rfind("\n") + 1 :]:
                    os.write(keys, f"{waiting.pop(0)[1]}\n".encode())
            assert not waiting, said
            return running.wait(PATIENCE), said.replace("\r", "")
        finally:
            running.kill()
            running.wait()
            os.close(keys)

    return talk


def test_asked_shown_changed_kept_and_asked_no_more(terminal, own, stored, folder):
    """What is not certain is asked; a line is changed; yes loads; the next such sheet is silent."""
    status, said = terminal(
        own(),
        answers=[
            ("What is it in every row", "CAL-1"), ("Which is it: tail-block, side, leave", "x"),
            ("Which is it: tail-block, side, leave", "tail"), ("Which is it: day first, month first", "day"),
            ("change a line", "maybe"), ("change a line", "6"), ("What does it hold", "weather"),
            ("What does it hold", "note"), ("change a line", "yes"),
        ],
    )  # fmt: skip
    assert status == 0, said
    assert "march.csv, row 2: the columns bear names of your own." in said
    assert "2025-04-03 00:00  PG-01  tail-block  thickness       bottom-left  18.02 mm  CAL-1" in said
    assert "every size lies near its limits so, and none in the other unit" in said
    assert "'weather' is none of: taken_at, build" in said
    assert said.rstrip().endswith("4 rows: 4 readings loaded.")
    rows = stored()
    assert [(r.build, r.station, r.millionths, r.taken_at[:10], r.note) for r in rows] == [
        ("PG-01", "bottom-left", 18_020_000, "2025-04-03", "me"),
        ("PG-01", "top-left", 18_008_600, "2025-04-03", "me"),
        ("PG-02", "bottom-left", 18_010_000, "2025-04-05", "me"),
        ("PG-02", "top-left", 18_000_980, "2025-04-05", "me"),
    ]
    kept = (folder / "sheets" / "march.toml").read_text()
    assert '"top-left (in)" = "value, station top-left, unit in"' in kept
    status, said = terminal(own(SHEET.replace("03/04", "07/04").replace("05/04", "08/04"), "april.csv"))
    assert (status, said) == (
        0, "april.csv: columns read as in sheets/march.toml\n4 rows: 4 readings loaded.\n",
    )  # fmt: skip


@pytest.fixture
def asked(dryfit, monkeypatch):
    """Runs `dryfit load` in this process as at a terminal, with the answers typed one after another."""

    def answer(*arguments, typed):
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in typed)))
        monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
        monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
        return dryfit("load", *arguments)

    return answer


def test_what_a_sheet_is_of_is_asked_each_time(asked, own, stored, folder):
    """A build and a day that stand in no column are kept only where a person says so; stop loads nothing."""
    path, first = own("waist,by\n1.9,me\n"), ["2025-03-01", "PG-01", ""]
    stopped = asked(path, typed=[*first, "stop"])
    assert (stopped.status, stored(), (folder / "sheets").exists()) == (2, [], False)
    assert stopped.err == "dryfit: march.csv, row 1: was stopped; nothing was loaded\n"
    assert asked(path, typed=first).status == 130
    assert asked(path, typed=[*first, "yes", "n"]).status == 0
    assert asked(path, typed=["03/04/2025", "2025-03-02", "PG-02"]).status == 0
    assert [(row.build, row.taken_at[:10]) for row in stored()] == [
        ("PG-01", "2025-03-01"), ("PG-02", "2025-03-02"),
    ]  # fmt: skip
    (folder / "sheets" / "march.toml").unlink()
    assert asked(path, typed=["2025-03-03", "PG-03", "CAL-1", "yes", "y"]).status == 0
    assert '"build" = "PG-03"' in (folder / "sheets" / "march.toml").read_text()
    assert asked(path, typed=[]).out.endswith("1 rows: 0 readings loaded, 1 were there already.\n")


def test_a_column_that_may_be_two_things_is_asked(asked, own, stored):
    """To a maker the instrument is what is built; numbers under a name that is not known may be readings."""
    path = own("Instrument,date,by,neck,caliper or so\nPG-01,2025-03-01,me,1.9,the old one\n")
    typed = ["instruments", "build", "value", "caliper or so", "side", "thick", "yes", "n"]
    said = asked(path, typed=typed)
    assert said.status == 0, said
    assert (
        "column 'Instrument': is it the build, or the instrument that measured? It holds PG-01." in said.out
    )
    (row,) = stored()
    assert (row.build, row.part, row.station, row.instrument) == ("PG-01", "side", "waist", "the old one")


def test_without_a_terminal_nothing_is_guessed(refused, own, stored, folder):
    """One line: what is not decided, what is proposed, and every way to say it; nothing is kept."""
    line = refused("load", own())
    assert line.startswith("dryfit: march.csv, row 2: not decided: column 'Instrument no' (build?); ")
    for words in (
        "instrument of every row", "column 'By' (leave?)", "--show", "sheets/march.toml",
        "with --same instrument=WHAT --yes, which takes what is proposed;", "; nothing was loaded",
    ):  # fmt: skip
        assert words in line
    assert "dates of every row (day first or month first?)" in refused("load", own(), "--yes")
    assert (stored(), (folder / "sheets").exists()) == ([], False)


def test_options_say_it_and_the_rest_is_kept(dryfit, own, stored, folder):
    """`--yes` takes what is proposed; the same file twice adds nothing; JSON stays one document."""
    document = dryfit("load", own(), *YES, "--json")
    assert (document.status, document.json) == (
        0, {"rows": 4, "loaded": 4, "duplicates": 0, "rejected": 0, "problems": []},
    )  # fmt: skip
    again = dryfit("load", own())
    assert again.out == (
        "march.csv: columns read as in sheets/march.toml\n4 rows: 0 readings loaded, 4 were there already.\n"
    )
    path = folder / "sheets" / "march.toml"
    path.write_text(path.read_text().replace('"leave"', '"left"'))
    bad = dryfit("load", own())
    assert bad.status == 2
    assert bad.err.startswith("dryfit: sheets/march.toml:9: columns.By: 'left' is none of: ")


@pytest.mark.parametrize(
    ("option", "why"),
    [
        (("--column", "By"), "write NAME=WHAT"),
        (("--column", "Bye=note"), "has no such column; it has Instrument"),
        (("--column", "By=noted"), "'noted' is none of"),
        (("--same", "unit=ell"), "must be mm or in"),
        (("--same", "taken_at=03/04/2025"), "write the date as 2025-03-01"),
        (("--same", "build="), "have a name"),
        (("--name", "TB=cello"), "known: tail-block"),
        (("--same", "build=A"), "the column 'Instrument no' holds it"),
    ],
)
def test_options_that_cannot_be(refused, own, option, why):
    """One line that names the option."""
    line = refused("load", own(), *YES, *option)
    assert why in line
    assert " ".join(option).partition("=")[0] in line


def test_show_drafts_the_file_that_says_it(dryfit, own, stored, folder):
    """What is decided, what is to be written in place of "?", and the first readings; it loads nothing."""
    draft = dryfit("load", own(), "--show")
    assert (draft.status, stored()) == (0, [])
    assert (
        '"TB" = "?"  # in row 4 is no part of the plan for certain; tail-block or side or leave' in draft.out
    )
    assert "# ? 03/04/2025  PG-01  tail-block  thickness  bottom-left  18.02 mm" in draft.out
    (folder / "sheets").mkdir()
    path = folder / "sheets" / "mine.toml"
    path.write_text(draft.out)
    bad = dryfit("load", own())
    told = [line.split(": ")[2] for line in bad.err.splitlines()]
    assert told == ["same.instrument", "same.dates", "names.TB"]
    assert bad.err.count("is not decided yet: say what it is") == 3
    assert "mine.toml:18: names.TB" in bad.err
    text = draft.out.replace('"dates" = "?"', 'dates = "month first"').replace(
        '"instrument" = "?"', 'instrument = ""'
    )
    path.write_text(text.replace('TB" = "?"', 'TB" = "leave"'))
    assert dryfit("load", own()).out.endswith("2 rows: 2 readings loaded.\n")
    assert {(row.build, row.taken_at[:10], row.instrument) for row in stored()} == {
        ("PG-01", "2025-03-04", "")
    }
    header = "taken_at,build,part,characteristic,station,value,unit,instrument\n"
    assert "nothing is to be decided" in dryfit("load", own(header, "log.csv"), "--show").out
    assert "--same is for columns of your own" in dryfit("load", own(header, "log.csv"), *YES[-2:]).err


def test_the_good_rows_of_an_own_sheet(dryfit, own, stored):
    """`--partial` writes the others as rows of the log, named by row and column of the sheet; they load."""
    path = own(SHEET.replace("18.02", "thick"))
    found = dryfit("load", path, *YES, "--same", "unit=mm", "--partial")
    assert (found.status, len(stored())) == (0, 3)
    assert "march.csv, row 3, Bottom Left 'thick'" in found.err
    rejected = path.with_name("march.rejected.csv")
    rejected.write_text(rejected.read_text().replace(",thick,", ",18.02,"))
    assert dryfit("load", rejected).status == 0
    assert len(stored()) == 4


MEAN = "guitar,date,waist\nPG-01,2025-03-01,1.9\nPG-02,2025-03-01,1.92\nMean,,1.91\n"


def test_a_total_is_asked_once_and_never_loaded(dryfit, refused, asked, own, stored, folder):
    """Not even by `--yes`; the answer is kept, by option or at a terminal, and the next total is left out."""
    line = refused("load", own(MEAN), "--yes", "--same", "instrument=CAL-1")
    assert (
        "not decided: the name 'Mean' (in row 4 looks like a total, a mean or a limit, not a reading: leave "
        "it, or read it). Say it at a terminal, or with --name Mean=WHAT;"
    ) in line
    assert (stored(), (folder / "sheets").exists()) == ([], False)
    said = asked(own(MEAN), typed=["CAL-1", "no", "tail-block", "leave", "yes", "n"])
    assert said.out.count("'Mean' looks like a total: say leave to leave its rows out, or read") == 1
    assert said.out.endswith("2 rows: 2 readings loaded.\n")
    assert '"Mean" = "leave"' in (folder / "sheets" / "march.toml").read_text()
    april = dryfit("load", own(MEAN.replace("-03-", "-04-"), "april.csv"))
    assert (april.status, april.out.splitlines()[1]) == (0, "2 rows: 2 readings loaded.")
    (folder / "sheets" / "march.toml").unlink()
    may = own(MEAN.replace("-03-", "-05-"), "may.csv")
    options = ("--yes", "--same", "instrument=CAL-1", "--name", "Mean=leave")
    assert dryfit("load", may, *options).out.endswith("2 rows: 2 readings loaded.\n")
    assert {row.build for row in stored()} == {"PG-01", "PG-02"}


def test_numbers_at_the_foot_are_refused_with_a_way_out(dryfit, refused, own, stored):
    """One line: where, what is missing, what to do; the answer it names does what it says."""
    options = ("--yes", "--quiet", "--same", "instrument=CAL-1")
    assert refused("load", own(MEAN.replace("Mean", "")), *options) == (
        "dryfit: march.csv, row 4: looks like a total at the foot of the sheet, without guitar and date: "
        "write them there, or delete it; nothing was loaded"
    )
    line = refused("load", own(MEAN.replace("Mean", "Mittel")), *options)
    assert line.endswith("delete it, or leave it out with --name Mittel=leave; nothing was loaded")
    assert stored() == []
    assert dryfit("load", own(MEAN.replace("Mean", "Mittel")), "--name", "Mittel=leave", *options).status == 0
    assert [row.build for row in stored()] == ["PG-01", "PG-02"]


def test_the_sheets_of_a_workbook_that_are_not_read_are_told(dryfit, tmp_path):
    """One line beside what is loaded; an empty sheet is not worth it."""
    path, book = tmp_path / "year.xlsx", openpyxl.Workbook()
    book.active.title = "March"
    for row in ("taken_at,build,part,characteristic,station,value,unit,instrument",
                "2025-03-01T09:00,PG-01,tail-block,thickness,top-left,18.01,mm,CAL-1"):  # fmt: skip
        book.active.append(row.split(","))
    book.create_sheet("Empty")
    book.save(path)
    assert dryfit("load", path).err == ""
    book.create_sheet("April").append(["one more"])
    book.save(path)
    found = dryfit("load", path)
    told = "only its sheet March is read; not read: April (--sheet NAME reads another)"
    assert (found.status, found.err) == (0, f"dryfit: year.xlsx: {told}\n")
    assert "has no sheet 'May'; it has March, Empty, April" in dryfit("load", path, "--sheet", "May").err


@pytest.fixture
def book(tmp_path):
    """Writes a workbook of sheets by name, each a list of rows."""

    def write(name, **sheets):
        written = openpyxl.Workbook()
        written.remove(written.active)
        for title, rows in sheets.items():
            sheet = written.create_sheet(title)
            for row in rows:
                sheet.append(row)
        written.save(tmp_path / name)
        return tmp_path / name

    return write


HEADER = ["taken_at", "build", "part", "characteristic", "station", "value", "unit", "instrument"]
NECKS = ["2025-03-01", "PG-01", "side", "thickness", "waist", 1.9, "mm", "CAL-1"]
BLOCKS = [["guitar", "date", "top-left (mm)"], ["PG-01", "2025-03-02", 18.01]]


def test_a_sheet_of_a_workbook_by_its_name(dryfit, refused, own, book, stored, folder):
    """The one asked for, whichever columns it has; kept, it is found where the first sheet is not kept."""
    path = book("a.xlsx", Notes=[["dear diary"]], Log=[HEADER, NECKS], Blocks=BLOCKS)
    assert dryfit("load", path, "--sheet", "log").out == "1 rows: 1 readings loaded.\n"
    said = dryfit("load", path, "--sheet", "Blocks", "--yes", "--same", "instrument=CAL-1")
    assert "only its sheet Blocks is read; not read: Notes, Log" in said.err
    assert [(row.part, row.station) for row in stored()] == [("side", "waist"), ("tail-block", "top-left")]
    kept = folder / "sheets" / "a.toml"
    assert 'sheet = "Blocks"' in kept.read_text()
    again = book("b.xlsx", Notes=[["dear diary"]], Blocks=[BLOCKS[0], ["PG-02", "2025-03-03", 18.02]])
    assert dryfit("load", again).out.endswith("in sheets/a.toml\n1 rows: 1 readings loaded.\n")
    first = book("c.xlsx", March=[BLOCKS[0], ["PG-03", "2025-03-03", 18.03]], Blocks=BLOCKS)
    assert "only its sheet March is read; not read: Blocks" in dryfit("load", first).err
    assert [row.build for row in stored()][2:] == ["PG-02", "PG-03"]
    kept.write_text(kept.read_text().replace('sheet = "Blocks"', "# any"))
    dryfit("load", first, "--sheet", "March")
    assert kept.read_text().count('sheet = "March"') == 1
    assert "--sheet is for a workbook: march.csv is none" in refused("load", own(), "--sheet", "Log")
