"""`dryfit load`, `check`, `plan` and `new`: statuses, JSON documents, one clear line for bad input."""

import shlex
import sqlite3
import subprocess

import pandas as pd
import pytest

VERDICTS = {"conforms", "does not conform", "undecided", "not measured"}
CHARACTERISTIC = {
    "characteristic", "station", "kind", "value", "unit", "target", "lower", "upper", "deviation",
    "standard_uncertainty", "conformance_probability", "verdict",
}  # fmt: skip
NUMBERS = (
    "value",
    "target",
    "lower",
    "upper",
    "deviation",
    "standard_uncertainty",
    "conformance_probability",
)


@pytest.fixture
def whole(log, good_row):
    """A log of every reading of the tail block of one build, all of them good."""
    square = "2025-03-01T09:10,PG-01,tail-block,squareness,,0.02,mm,CAL-1"
    return log(*[good_row(n, value="18.00") for n in range(4)], square)


def test_load_tells_what_it_loaded(dryfit, whole, stored):
    """In words, and as the JSON of the contract with nothing else on stdout."""
    assert dryfit("load", whole, "--json").json == {
        "rows": 5, "loaded": 5, "duplicates": 0, "rejected": 0, "problems": [],
    }  # fmt: skip
    again = dryfit("load", whole)
    assert (again.status, again.err) == (0, "")
    assert again.out == "5 rows: 0 readings loaded, 5 were there already.\n"
    assert len(stored()) == 5


def test_load_tells_each_problem(dryfit, log, good_row, stored):
    """File, row, column, value and why, in JSON; a line for each on stderr; exit 2."""
    path = log(good_row(0), "2025-03-01T09:00,PG-01,tail-block,thickness,top,18.0,mm,C", name="march.csv")
    found = dryfit("load", path, "--json")
    assert found.status == 2
    (problem,) = found.json["problems"]
    assert set(problem) == {"file", "row", "column", "value", "why"}
    assert (problem["file"], problem["row"], problem["column"], problem["value"]) == (
        "march.csv", 3, "station", "top",
    )  # fmt: skip
    assert {key: found.json[key] for key in ("rows", "loaded", "duplicates", "rejected")} == {
        "rows": 2, "loaded": 0, "duplicates": 0, "rejected": 1,
    }  # fmt: skip
    words = dryfit("load", path)
    assert words.out == ""
    assert words.err.startswith("dryfit: march.csv, row 3, station 'top': no station of tail-block thickness")
    assert words.err.endswith("; nothing was loaded\n")
    assert stored() == []


@pytest.mark.parametrize("named", ["missing.csv", "."])
def test_no_such_log(refused, tmp_path, named):
    """The file is named."""
    assert "is not a file" in refused("load", tmp_path / named)


BLOCK = "PG-01,tail-block,thickness"


@pytest.mark.parametrize(
    ("row", "place", "why"),
    [
        ("2025-03-01T09:00,PG-01,tailblock,thickness,top-left,18.0,mm,C", "row 3, part", "known: tail-block"),
        ("2025-03-01T09:00,PG-01,tail-block,thick,top-left,18.0,mm,C", "row 3, characteristic", "thickness"),
        (f"2025-03-01T09:00,{BLOCK},left,18.0,mm,C", "row 3, station", "known:"),
        (f"2025-03-01T09:00,{BLOCK},top-left,18.0,deg,C", "row 3, unit", "is read in mm"),
        (f"2025-03-01T09:00,{BLOCK},top-left,457.2,mm,C", "row 3, value", "meant in the other unit"),
        (f"2025-03-01T09:00,{BLOCK},top-left,0.71,mm,C", "row 3, value", "read in inches"),
        (f"2025-03-01T09:00,{BLOCK},top-left,180,mm,C", "row 3, value", "decimal slip"),
        (f"2025-03-01T09:00,{BLOCK},top-left,18.0", "row 3", "cut in mid-line"),
        (f"2025-03-01T09:00,{BLOCK},top-left,18.0,mm,C,", "row 3", "9 fields where the header has 8"),
        ("2025-03-01T09:00:00,PG-01,tail-block,thickness,bottom-left,18.02,mm,CAL-1", "row 3, value", "same"),
    ],
)
def test_a_bad_row_is_one_line(refused, log, good_row, stored, row, place, why):
    """Naming the file, the row, the column and the reason; nothing is loaded."""
    line = refused("load", log(good_row(0), row, good_row(1)))
    assert f"log.csv, {place}" in line
    assert why in line
    assert stored() == []


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "is empty"),
        ("taken_at,build\n".encode("utf-16"), "UTF-16"),
        (
            "taken_at,build,part,characteristic,station,value,unit,instrument\n\u00e9".encode("latin-1"),
            "row 2",
        ),
        (
            b"build,part,characteristic,station,value,unit,instrument\nB,side,thickness,waist,2,mm,CAL-1\n",
            "row 1: not decided: taken_at of every row",
        ),
        (b"taken_at,build,part,characteristic,station,value,unit,instrument\n", "has a header and no row"),
    ],
)
def test_a_bad_file_is_one_line(refused, tmp_path, stored, content, why):
    """Naming the file and the reason."""
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    line = refused("load", path)
    assert "log.csv" in line
    assert why in line
    assert stored() == []


def test_a_log_cut_in_its_last_line(refused, log, good_row, stored):
    """A copy that broke off: the last row is named."""
    line = refused("load", log(good_row(0), good_row(1), good_row(2)[:-3], end=""))
    assert "row 4" in line
    assert "mid-line" in line
    assert stored() == []


def test_partial_loads_the_good_rows(dryfit, log, good_row, stored):
    """Exit 0; the others are in NAME.rejected.csv with reasons, which stdout names."""
    path = log(good_row(0), f"soon,{BLOCK},top-left,18.0,mm,C", good_row(1), name="week.csv")
    found = dryfit("load", path, "--partial")
    assert found.status == 0
    assert "2 readings loaded, 1 rejected, see" in found.out
    assert "row 3, taken_at 'soon'" in found.err
    rejected = pd.read_csv(path.with_name("week.rejected.csv"), dtype=str)
    assert rejected["taken_at"].tolist() == ["soon"]
    assert "not a date and time" in rejected["why"][0]
    assert len(stored()) == 2
    document = dryfit("load", path, "--partial", "--json")
    assert (document.status, document.json["rejected"], document.json["duplicates"]) == (0, 1, 2)


def test_accept_suspect(dryfit, log, stored):
    """Loads what looks like a slip, marked."""
    path = log(f"2025-03-01T09:00,{BLOCK},top-left,457.2,mm,C")
    assert dryfit("load", path).status == 2
    assert dryfit("load", path, "--accept-suspect").status == 0
    assert "25.4" in stored()[0].suspect


def test_rough_stock_is_loaded(dryfit, log):
    """A size well over its target is no fault of the log."""
    assert dryfit("load", log(f"2025-03-01T09:00,{BLOCK},top-left,27.5,mm,C")).status == 0


def test_check_as_json(dryfit, whole):
    """The shape of the contract, nothing else on stdout, and exit 0 where all is fit."""
    dryfit("load", whole)
    found = dryfit("check", "PG-01", "tail-block", "--json")
    assert found.status == 0, found.out
    (build,) = found.json["builds"]
    assert {"build", "model", "parts"} <= set(build)
    assert (build["build"], build["model"]) == ("PG-01", "parlour-guitar")
    (part,) = build["parts"]
    assert (part["part"], part["fit"]) == ("tail-block", True)
    assert len(part["characteristics"]) == 6
    for item in part["characteristics"]:
        assert set(item) >= CHARACTERISTIC
        assert item["verdict"] in VERDICTS
        assert all(item[name] is None or isinstance(item[name], int | float) for name in NUMBERS)
    first = part["characteristics"][0]
    assert (first["station"], first["value"], first["unit"], first["lower"], first["upper"]) == (
        "bottom-left", 18.0, "mm", 17.85, 18.15,
    )  # fmt: skip
    assert [item["station"] for item in part["characteristics"] if item["kind"] == "taper"] == [None]


def test_check_exits_1_where_something_is_not_fit(dryfit, whole):
    """The side of the same build is not measured."""
    dryfit("load", whole)
    found = dryfit("check", "PG-01")
    assert found.status == 1
    assert "tail-block: fit" in found.out
    assert "side: not fit" in found.out
    assert dryfit("check").status == 1
    assert dryfit("check", "PG-01", "side", "--json").json["builds"][0]["parts"][0]["fit"] is False


def test_check_judges_the_rest_where_a_plan_is_gone(dryfit, whole, folder, good_row, log):
    """The build that cannot be judged is named on stderr and in the document; exit 2, not 1 or 0."""
    plan = folder / "plans" / "parlour-guitar.toml"
    other = folder / "plans" / "other.toml"
    other.write_text(plan.read_text().replace("parlour-guitar", "octave-mandolin"))
    dryfit("load", whole, "--model", "parlour-guitar")
    dryfit("load", log(good_row(9, "OC-01"), name="o.csv"), "--model", "octave-mandolin")
    other.unlink()
    found = dryfit("check", "--json")
    assert found.status == 2
    assert [item["build"] for item in found.json["builds"]] == ["PG-01"]
    (left,) = found.json["not_judged"]
    assert left["build"] == "OC-01"
    assert found.err == f"dryfit: OC-01 cannot be judged: {left['why']}\n"
    assert "PG-01 (parlour-guitar" in dryfit("check").out
    assert dryfit("check", "OC-01").status == 2


def test_a_size_out_of_tolerance_does_not_conform(dryfit, log, good_row):
    """By far outside, near the limit, and inside: three words for three cases."""
    values = ("18.40", "18.14", "18.00", "17.60")
    dryfit("load", log(*[good_row(n, value=v) for n, v in enumerate(values)]))
    found = dryfit("check", "PG-01", "tail-block", "--json")
    assert found.status == 1
    items = found.json["builds"][0]["parts"][0]["characteristics"]
    sizes = [item["verdict"] for item in items if item["kind"] == "thickness"]
    assert sizes == ["does not conform", "undecided", "conforms", "does not conform"]
    assert items[0]["deviation"] == 0.4
    assert 0 <= items[0]["conformance_probability"] < 0.01


def test_an_empty_shop_has_nothing_to_check(dryfit):
    """Exit 0; the JSON is an empty list of builds."""
    found = dryfit("check")
    assert found.status == 0
    assert "Nothing has been measured yet" in found.out
    assert dryfit("check", "--json").json == {"builds": []}


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["check", "PG-1"], "known: PG-01"),
        (["check", "PG-01", "tailblock"], "known: tail-block"),
        (["plan", "parlor"], "known: parlour-guitar"),
        (["advise", "PG-9", "tail-block"], "known: PG-01"),
        (["advise", "PG-01", "nothing"], "no part is called 'nothing'"),
        (["advise", "PG-01", "tail-block", "--characteristic", "width"], "known: thickness"),
        (["glueup", "PG-9", "tail-block"], "known: PG-01"),
        (["glueup", "PG-01", "nothing"], "no part is called 'nothing'"),
        (["caliper", "listen", "CAL-9"], "no instrument is called 'CAL-9'"),
        (["caliper", "listen", "CAL-1"], "readings are typed"),
        (["measure", "PG-01", "nothing"], "no part is called 'nothing'"),
        (["measure", "PG-01", "tail-block", "--instrument", "CAL-9"], "no instrument is called 'CAL-9'"),
        (["measure", "PG-01", "tail-block", "--model", "cello"], "no model is called 'cello'"),
        (["wood", "emc", "--rh", "400"], "400"),
        (["wood", "emc", "--rh", "nan"], "nan"),
        (
            ["wood", "movement", "--species", "oakum", "--direction", "radial", "--size", "70",
             "--from-rh", "65", "--to-rh", "45"], "oakum",
        ),
    ],
)  # fmt: skip
def test_names_that_are_not_known(dryfit, refused, whole, arguments, why):
    """One line with the near ones."""
    dryfit("load", whole)
    assert why in refused(*arguments)


@pytest.mark.parametrize("command", [["plan"], ["check"], ["load", "x.csv"], ["measure", "A", "tail-block"]])
def test_a_plan_with_faults_stops_every_command(refused, folder, plan_text, command):
    """The file, line and key of the fault."""
    path = folder / "plans" / "parlour-guitar.toml"
    path.write_text(plan_text.replace("tolerance = 0.15", "tolerance = [0.2, -0.2]"), encoding="utf-8")
    line = refused(*command)
    assert "parlour-guitar.toml:17: parts.tail-block.characteristics.thickness.tolerance" in line
    assert "upside down" in line


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("tolerance = 0.15", "tolerance = 0", "above zero"),
        ("limit = 0.10", "limit = 0", "above zero"),
        ("tolerance = 0.15", "tollerance = 0.15", "did you mean 'tolerance'"),
        ("top-left = [0, 90]", "bottom-left = [0, 90]", "not valid TOML"),
        ("top-left = [0, 90]", "top-left = [0, 0]", "same place as station"),
        ('unit = "mm"', 'unit = "mm', "not valid TOML"),
    ],
)
def test_each_fault_of_a_plan(dryfit, folder, plan_text, old, new, why):
    """Exit 2, with a line for each problem: file, line, key, reason."""
    (folder / "plans" / "parlour-guitar.toml").write_text(plan_text.replace(old, new), encoding="utf-8")
    found = dryfit("plan")
    assert (found.status, found.out) == (2, "")
    lines = found.err.splitlines()
    assert all(line.startswith("dryfit: parlour-guitar.toml:") for line in lines)
    assert any(why in line for line in lines)


def test_all_faults_of_all_plans_are_listed(dryfit, folder, plan_text):
    """One line each; past twenty the rest are counted."""
    for number in range(30):
        (folder / "plans" / f"p{number}.toml").write_text("model = 1\n[parts]", encoding="utf-8")
    found = dryfit("plan")
    assert found.status == 2
    assert len(found.err.splitlines()) == 21
    assert found.err.splitlines()[-1].endswith("more")


def test_plan_as_json_and_in_words(dryfit):
    """What to read where, with limits; the JSON has the same."""
    found = dryfit("plan", "--json")
    assert found.status == 0
    (plan,) = found.json["plans"]
    assert plan["model"] == "parlour-guitar"
    thickness = plan["parts"][0]["characteristics"][0]
    assert (thickness["target"], thickness["lower"], thickness["upper"]) == (18.0, 17.85, 18.15)
    assert thickness["stations"]["top-right"] == [60.0, 90.0]
    words = dryfit("plan").out
    assert "tail-block: Tail block, spanish cedar" in words
    assert "17.85 mm" in words


def test_new_makes_a_shop_that_works(dryfit, refused, tmp_path):
    """And never writes over one."""
    target = tmp_path / "mine"
    assert dryfit("new", target).status == 0
    assert dryfit("plan", "--shop", target).status == 0
    assert dryfit("check", "--shop", target, "--json").json == {"builds": []}
    assert "already holds" in refused("new", target)


def test_no_shop_here(refused, tmp_path, monkeypatch):
    """Says how to name one or make one."""
    monkeypatch.setenv("DRYFIT_SHOP", str(tmp_path))
    for command in (["check"], ["plan"], ["load", "x.csv"], ["measure", "A", "b"], ["serve"]):
        line = refused(*command)
        assert "holds no shop.toml" in line
        assert "dryfit new" in line
    assert "holds no shop.toml" in refused("check", "--shop", tmp_path / "nowhere")


def test_the_shop_may_be_named_before_or_after_the_command(dryfit, folder, tmp_path, monkeypatch):
    """As people type it."""
    monkeypatch.setenv("DRYFIT_SHOP", str(tmp_path))
    assert dryfit("check", "--shop", folder).status == 0
    assert dryfit("--shop", folder, "check").status == 0


def test_a_store_of_a_newer_version(dryfit, refused, folder, whole):
    """Is left alone by every command."""
    dryfit("load", whole)
    with sqlite3.connect(folder / "readings.db") as connection:
        connection.execute("UPDATE meta SET value = '99'")
    connection.close()
    for command in (["check"], ["load", whole], ["measure", "PG-01", "tail-block"], ["backup"]):
        assert "newer" in refused(*command)


@pytest.mark.parametrize(
    ("store", "why"),
    [
        ("oracle://x", "cannot be used"),
        ("sqlite:////no/such/place/x.db", "cannot be opened"),
        ("postgresql+psycopg://nobody@127.0.0.1:1/none?connect_timeout=2", "cannot be reached"),
    ],
)
def test_a_store_that_is_not_there(refused, folder, whole, store, why):
    """One line."""
    text = (folder / "shop.toml").read_text()
    (folder / "shop.toml").write_text(f'store = "{store}"\n{text}')
    assert why in refused("load", whole)


def test_a_store_that_is_something_else(refused, folder, whole):
    """A file of another program is named and left as it is."""
    (folder / "readings.db").write_bytes(b"another file " * 500)
    assert "not a Dryfit store" in refused("load", whole)


def test_advise_as_json(dryfit, log, good_row):
    """The shape of the contract."""
    dryfit("load", log(*[good_row(n, value=v) for n, v in enumerate(("18.30", "18.32", "18.10", "18.12"))]))
    found = dryfit("advise", "PG-01", "tail-block", "--json")
    assert found.status == 0
    document = found.json
    assert {"build", "part", "characteristic", "feasible", "aim", "take_off", "passes", "say"} <= set(
        document
    )
    assert document["feasible"] is True
    assert set(document["take_off"]) == {"bottom-left", "bottom-right", "top-left", "top-right"}
    assert all(value >= 0 for value in document["take_off"].values())
    assert document["passes"] is None or isinstance(document["passes"], int)


def test_glueup_as_json(dryfit, whole):
    """The shape of the contract, closed and overridden; exit 1 while it is closed."""
    dryfit("load", whole)
    found = dryfit("glueup", "PG-01", "side", "--json")
    assert found.status == 1
    document = found.json
    assert {"build", "part", "gate", "next", "reasons", "overridden"} <= set(document)
    assert (document["gate"], document["next"], document["overridden"]) == ("closed", "measure", False)
    assert all(set(reason) == {"about", "why"} for reason in document["reasons"])
    forced = dryfit("glueup", "PG-01", "side", "--override", "the show is tomorrow", "--json")
    assert (forced.status, forced.json["gate"], forced.json["overridden"]) == (0, "open", True)


def test_output_cut_off_by_its_reader_is_no_error(command_line):
    """`dryfit plan | head -1` ends quietly."""
    program, environment = command_line
    pipe = f"set -o pipefail; {shlex.join([*program, 'plan', '--json'])} | head -c 1"
    found = subprocess.run(["bash", "-c", pipe], env=environment, capture_output=True, text=True, check=False)
    assert (found.returncode, found.stdout, found.stderr) == (0, "{", "")


def test_a_terminal_of_an_old_character_set(command_line, dryfit, whole):
    """Marks that it cannot show are replaced; the verdict is still told."""
    program, environment = command_line
    dryfit("load", whole)
    found = subprocess.run(
        [*program, "check", "PG-01", "tail-block"],
        env=environment | {"PYTHONIOENCODING": "latin-1"}, capture_output=True, check=False,
    )  # fmt: skip
    assert (found.returncode, found.stderr) == (0, b"")
    assert b"tail-block: fit" in found.stdout


def test_without_any_terminal(command_line):
    """Started by another program with no input at all, `measure` ends instead of failing."""
    program, environment = command_line
    words = shlex.join([*program, "measure", "PG-01", "tail-block"])
    found = subprocess.run(
        ["bash", "-c", f"{words} <&-"], env=environment, capture_output=True, text=True, check=False
    )
    assert (found.returncode, found.stderr) == (1, "")
    assert "tail-block is not fit" in found.stdout
