"""Loading a long log, beside reading it with pandas and storing the same rows with bare sqlite3."""

import datetime as dt
import gc
import random
import sqlite3
import subprocess
import sys
import time

import pandas as pd

from qa.logs.loading import load
from qa.store.store import open_store

STATIONS = ("bottom-left", "bottom-right", "top-left", "top-right")
HEADER = (
    "taken_at,build,part,characteristic,station,value,unit,instrument,bench,machine,rh_percent,temp_c,note\n"
)
MANY = 1_000_000


def write_log(path, rows, seed=1):
    """A log of so many good rows: a reading every 30 seconds, 400 to a build."""
    chance = random.Random(seed)
    start = dt.datetime(2020, 1, 1, tzinfo=dt.UTC)
    with path.open("w", encoding="utf-8") as file:
        file.write(HEADER)
        for number in range(rows):
            moment = (start + dt.timedelta(seconds=30 * number)).isoformat()
            place = f"PG-{number // 400:05d},tail-block,thickness,{STATIONS[number % 4]}"
            climate = f"{chance.gauss(45, 3):.0f},{chance.gauss(20, 1):.1f}"
            file.write(f"{moment},{place},{chance.gauss(18, 0.05):.2f},mm,CAL-1,North,plane,{climate},\n")
    return path


INDEXES = (
    "CREATE UNIQUE INDEX once ON readings (taken_at, build, part, characteristic, station, value)",
    "CREATE INDEX of_build ON readings (build, taken_at)",
    "CREATE INDEX of_series ON readings (part, characteristic, station)",
)


def floor(path, place, indexes):
    """Read the log with pandas and store its rows with sqlite3, unchecked; the seconds it took."""
    start = time.perf_counter()
    frame = pd.read_csv(path)
    rows = zip(*(frame[name].tolist() for name in frame), strict=True)
    connection = sqlite3.connect(place, isolation_level=None)
    for setting in ("journal_mode=WAL", "synchronous=FULL", "cache_size=-65536"):
        connection.execute(f"PRAGMA {setting}")
    connection.execute(f"CREATE TABLE readings (sequence INTEGER PRIMARY KEY, {', '.join(frame)})")
    for index in indexes:
        connection.execute(index)
    connection.execute("BEGIN IMMEDIATE")
    marks = ", ".join("?" * len(frame.columns))
    connection.executemany(f"INSERT INTO readings ({', '.join(frame)}) VALUES ({marks})", rows)  # noqa: S608
    connection.execute("COMMIT")
    connection.close()
    return time.perf_counter() - start


def ours(path, shop, place):
    """Load the log, every row checked; the seconds it took."""
    start = time.perf_counter()
    with open_store(f"sqlite:///{place}") as store:
        result = load([path], shop, store)
    assert (result.loaded, result.problems) == (result.rows, [])
    return time.perf_counter() - start


def test_a_million_rows(asked, benchmark, target, shop, tmp_path):
    """Checked and kept once for ever, at most 3 times reading them and storing them with the same indexes."""
    path = write_log(tmp_path / "log.csv", MANY)
    ours(write_log(tmp_path / "warm.csv", 1000), shop, tmp_path / "warm.db")
    bare = floor(path, tmp_path / "bare.db", ())
    indexed = floor(path, tmp_path / "indexed.db", INDEXES)
    gc.collect()
    taken = benchmark.pedantic(ours, args=(path, shop, tmp_path / "ours.db"), rounds=1)
    benchmark.extra_info |= {
        "seconds": taken, "times_bare_table": taken / bare, "times_indexed_table": taken / indexed,
    }  # fmt: skip
    target("load of 1,000,000 rows, against a table with the same indexes", taken / indexed, 3)
    target("the same, against a table without indexes", taken / bare, 3)
    assert taken <= 3 * indexed


MEASURE = """
import sys
from pathlib import Path
from qa.logs.loading import load
from qa.shop import load_shop
from qa.store.store import open_store
shop = load_shop(Path(sys.argv[1]))
with open_store(f"sqlite:///{sys.argv[3]}") as store:
    result = load([Path(sys.argv[2])], shop, store)
assert result.loaded == result.rows, result.problems[:3]
print(next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith("VmHWM")) / 1024)
"""


def peak_mb(path, folder, place):
    """The most memory that loading a log takes in a program of its own, in MB."""
    words = [sys.executable, "-c", MEASURE, str(folder), str(path), str(place)]
    return float(subprocess.run(words, capture_output=True, text=True, check=True).stdout)


def test_memory_does_not_grow_with_the_log(asked, benchmark, target, folder, tmp_path):
    """Under 700 MB for a million rows, and no more than a tenth more for three million."""
    peaks = []

    def both():
        for rows in (MANY, 3 * MANY):
            path = write_log(tmp_path / f"{rows}.csv", rows)
            peaks.append(peak_mb(path, folder, tmp_path / f"{rows}.db"))

    benchmark.pedantic(both, rounds=1)
    benchmark.extra_info |= {"peak_mb": peaks}
    target("memory of loading 3,000,000 rows", max(peaks), 700, "MB")
    target("the same, against loading 1,000,000", peaks[1] / peaks[0], 1.1)
    assert max(peaks) < 700
    assert peaks[1] <= 1.1 * peaks[0]
