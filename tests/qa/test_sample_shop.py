"""The demo shop's files come from the seed, agree with its plans, and hold the small faults told."""

import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from qa.errors import ShopError
from qa.sample_shop import DEFAULT_SEED, generate, write

LOGS = Path(__file__).parents[2] / "sample_logs"
PLACE = ["build", "part", "characteristic", "station"]
WRITTEN = (
    "year-1.csv",
    "year-2.csv",
    "faults-at-the-bench.csv",
    "diary.csv",
    "studies/spruce-plate.csv",
    "studies/cherry-block.csv",
    "studies/cherry-offcuts.csv",
)
R1, R2 = "plans/octave-mandolin-r1.toml", "plans/octave-mandolin.toml"


def read(name):
    """A shipped file as text, blanks kept as blanks."""
    return pd.read_csv(LOGS / name, dtype=str, keep_default_na=False)


def planned(name):
    """A plan's characteristics as tables of TOML, by part/characteristic."""
    plan = tomllib.loads((LOGS / name).read_text(encoding="utf-8"))
    return {
        f"{part}/{key}": item
        for part, table in plan["parts"].items()
        for key, item in table["characteristics"].items()
    }


@pytest.fixture(scope="module")
def log():
    """Both years as text, with the build's number."""
    both = pd.concat([read("year-1.csv"), read("year-2.csv")], ignore_index=True)
    return both.assign(n=both["build"].str[3:].astype(int))


@pytest.mark.parametrize("name", WRITTEN)
def test_the_seed_gives_the_shipped_file_again_byte_for_byte(tmp_path, name):
    """Writing with the stated seed reproduces every shipped CSV."""
    write(tmp_path)

    assert (tmp_path / name).read_bytes() == (LOGS / name).read_bytes()


def test_write_names_every_file_and_another_seed_gives_other_readings(tmp_path):
    """The list returned is what was written, and the seed matters."""
    written = write(tmp_path, DEFAULT_SEED + 1)

    assert sorted(written) == sorted(tmp_path / name for name in WRITTEN)
    assert (tmp_path / "year-1.csv").read_bytes() != (LOGS / "year-1.csv").read_bytes()


def test_write_says_why_where_the_folder_is_a_file(tmp_path):
    """A folder that cannot be written raises the shop's error with the folder's name."""
    (tmp_path / "taken").write_text("")

    with pytest.raises(ShopError, match="taken"):
        write(tmp_path / "taken")


def test_generate_gives_the_columns_of_a_log_in_order_of_time():
    """The frame has the contract's columns, numbers as numbers, oldest first."""
    frame = generate()

    assert list(frame.columns) == list(read("year-1.csv").columns)
    assert pd.to_datetime(frame["taken_at"]).is_monotonic_increasing
    assert np.isfinite(frame["value"]).all()


def test_the_files_are_small_plain_text():
    """Less than 3 MB together, LF only, two decimals in every value."""
    files = [LOGS / name for name in WRITTEN]

    assert sum(path.stat().st_size for path in files) < 3_000_000
    assert not any(b"\r" in path.read_bytes() for path in files)
    for year in ("year-1.csv", "year-2.csv"):
        assert read(year)["value"].str.fullmatch(r"\d+\.\d\d").all()


def test_every_row_names_a_station_of_the_plan_and_every_station_has_its_reading(log):
    """Rows and plan agree both ways, but for the one station that was skipped."""
    places = {
        (f"OM-{n:02d}", *name.split("/"), station)
        for n in range(1, 37)
        for name, item in planned(R2).items()
        if "of" not in item
        for station in item.get("stations", [""])
    }

    read_at = set(log[PLACE].itertuples(index=False, name=None))

    assert read_at <= places
    assert places - read_at == {("OM-11", "side-right", "thickness", "middle-upper")}


def test_the_plans_two_revisions_differ_in_the_back_alone():
    """r2, in force from OM-33's first day, lowers the back from 2.60 to 2.55."""
    r2 = tomllib.loads((LOGS / R2).read_text())
    r1 = tomllib.loads((LOGS / R1).read_text())

    assert r1["parts"]["back"]["characteristics"]["thickness"]["target"] == 2.60
    assert r2["parts"]["back"]["characteristics"]["thickness"].pop("target") == 2.55
    assert r2.pop("since").isoformat() == "2025-11-03"
    r1["parts"]["back"]["characteristics"]["thickness"].pop("target")
    assert r1 == r2


def test_the_shop_knows_every_instrument_of_the_log(log):
    """shop.toml describes CAL-1, CAL-2 and the feelers, and nothing reads with another."""
    shop = tomllib.loads((LOGS / "shop.toml").read_text(encoding="utf-8"))

    assert set(log["instrument"]) == set(shop["instruments"]) == {"CAL-1", "CAL-2", "FEELERS"}


def test_builds_batches_and_benches_are_as_told(log):
    """36 builds in nine months' batches, odd ones North with CAL-1, even ones South with CAL-2."""
    calipers = log[log["instrument"] != "FEELERS"]
    months = log[log["note"] == ""].groupby("n")["taken_at"].first().str[:7]

    assert sorted(log["n"].unique()) == list(range(1, 37))
    assert (calipers["instrument"] == np.where(calipers["n"] % 2, "CAL-1", "CAL-2")).all()
    assert (log["bench"] == np.where(log["n"] % 2, "North", "South")).all()
    assert list(months.iloc[::4]) == [
        *("2024-02", "2024-04", "2024-07", "2024-10", "2025-01", "2025-03", "2025-06", "2025-08", "2025-11")
    ]


def test_each_fault_at_the_bench_has_its_good_reading_in_the_log(log):
    """A cut record, inches, a slipped point and a doubled line, where the log has a good value for each."""
    faults = read("faults-at-the-bench.csv")
    good = log.assign(value=log["value"].astype(float)).drop_duplicates(PLACE).set_index(PLACE)["value"]
    at = dict(zip(faults["value"], faults[PLACE].itertuples(index=False, name=None), strict=True))

    assert list(faults["value"])[:3] == ["5.", "0.075", "28.5"]
    assert list(faults["unit"]) == ["mm", "", "mm", "mm", "mm"]
    assert good[at["5."]] == pytest.approx(5.60, abs=0.1)
    assert good[at["0.075"]] == pytest.approx(0.075 * 25.4, abs=0.006)
    assert good[at["28.5"]] == pytest.approx(2.85)


def test_the_doubled_line_is_a_good_reading_of_the_log_twice():
    """OM-22's two lines are alike in every column, and alike to one row of the log."""
    doubled = read("faults-at-the-bench.csv").query("build == 'OM-22'")
    original = read("year-2.csv")

    assert len(doubled) == 2
    assert len(doubled.drop_duplicates()) == 1
    assert len(original.merge(doubled.drop_duplicates(), on=list(original.columns))) == 1


def test_the_skipped_station_has_its_reason_beside_it(log):
    """OM-11's missing station is explained in the note of the neighbouring reading, and in the diary."""
    side = log[(log["build"] == "OM-11") & (log["part"] == "side-right")].set_index("station")
    skipped = read("diary.csv").query("kind == 'skip'")

    assert side.loc["middle-lower", "note"].startswith("middle-upper skipped: ")
    assert skipped[PLACE].to_numpy().tolist() == [["OM-11", "side-right", "thickness", "middle-upper"]]


def test_the_fuzzy_readings_stand_out(log):
    """Read again after wiping, a reading is a quarter of a millimetre less."""
    again = log[log["note"].str.contains("fuzz")].set_index(PLACE)["value"].astype(float)
    first = log.drop_duplicates(PLACE).set_index(PLACE)["value"].astype(float)

    assert list(again.index.get_level_values("build")) == ["OM-05", "OM-27"]
    assert (first[again.index] - again).to_numpy() == pytest.approx(0.25)


@pytest.mark.parametrize(
    ("part", "caliper", "told"),
    [
        ("spruce-plate", "CAL-1", 0.024),
        ("spruce-plate", "CAL-2", 0.027),
        ("cherry-block", "CAL-1", 0.014),
        ("cherry-block", "CAL-2", 0.016),
    ],
)
def test_a_study_of_one_part_has_the_spread_told(part, caliper, told):
    """Ten repeats whose sample standard deviation is the told one, to the display's rounding."""
    study = read(f"studies/{part}.csv").query("appraiser == @caliper")

    assert list(study["trial"]) == [str(n) for n in range(1, 11)]
    assert study["value"].astype(float).std() == pytest.approx(told, abs=0.0015)


def test_the_crossed_study_is_balanced():
    """Five parts, two calipers, three trials, each once."""
    study = read("studies/cherry-offcuts.csv")

    assert len(study) == 30
    assert (study.groupby(["part", "appraiser"])["trial"].nunique() == 3).all()


def test_the_diary_tells_when_things_were_put_right():
    """The reset, the changed hold, the dirty jaw, the overrides and the waits, at the builds told."""
    diary = read("diary.csv")
    log = pd.concat([read("year-1.csv"), read("year-2.csv")])
    began = log.groupby("build")["taken_at"].first()
    reset, hold = (diary.loc[diary["text"].str.contains(w), "at"].item() for w in ("fence", "changed hold"))
    dirty = diary[diary["reading"] == "25.06"]

    assert began["OM-22"] < reset < began["OM-23"]
    assert began["OM-28"] < hold < began["OM-30"]
    assert list(dirty["instrument"]) == ["CAL-2"]
    assert dirty["at"].item()[:10] == began["OM-30"][:10]
    assert list(diary.loc[diary["kind"] == "override", "build"]) == ["OM-09", "OM-10", "OM-11"]
    assert list(diary.loc[diary["kind"] == "wait", "build"]) == ["OM-12", *(f"OM-{n}" for n in range(17, 21))]
    assert list(diary.loc[diary["kind"] == "in doubt", "build"]) == ["OM-26", "OM-28", "OM-30"]
    checked = diary[(diary["instrument"] == "CAL-2") & (diary["kind"] == "check")]["at"].str[:10]
    assert checked[checked > "2025-03-27"].min() == "2025-08-05"
