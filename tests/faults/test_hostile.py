"""What means harm: logs that unpack to more than memory holds, paths that lead out, a line that floods."""

import os
import pty
import resource
import subprocess
import sys
import threading
import tty
import zipfile
from decimal import Decimal
from pathlib import Path

import openpyxl
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from drivers.frames import encode, load_profile
from qa.cli import run
from qa.store.store import open_store

COLUMNS = ("taken_at", "build", "part", "characteristic", "station", "value", "unit", "instrument")
GOOD = ("2025-03-01T09:00:00", "PG-01", "tail-block", "thickness", "top-left", "18.02", "mm", "CAL-1")
PROGRAM = [sys.executable, "-c", "from qa.cli import main; main()"]


@pytest.fixture
def refused(folder):
    """Runs the command with little memory to spare; it must refuse in one line, which is given."""

    def go(*words):
        limit = 1_500_000_000

        found = subprocess.run(
            [*PROGRAM, *map(str, words)],
            capture_output=True, text=True, timeout=60, check=False,
            env={**os.environ, "DRYFIT_SHOP": str(folder)},
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_DATA, (limit, limit)),
        )  # fmt: skip
        assert found.returncode == 2, found
        assert found.stderr.startswith("dryfit: ")
        assert found.stderr.count("\n") == 1, found.stderr
        return found.stderr

    return go


def workbook(path):
    """A good log as XLSX."""
    book = openpyxl.Workbook()
    book.active.append(COLUMNS)
    book.active.append(GOOD)
    return book, path


def with_sheet(path, change):
    """A good log whose sheet's XML is changed by a function."""
    book, _ = workbook(path)
    good = path.with_name("good.xlsx")
    book.save(good)
    with zipfile.ZipFile(good) as source, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            text = source.read(name)
            target.writestr(name, change(text.decode()) if name.endswith("sheet1.xml") else text)
    return path


def blown_up(path, megabytes, level=6):
    """A good log whose sheet ends in so many megabytes of spaces."""
    good = with_sheet(path.with_name("small.xlsx"), lambda text: text)
    with (
        zipfile.ZipFile(good) as source,
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=level) as target,
    ):
        for name in source.namelist():
            with target.open(name, "w") as part:
                part.write(source.read(name))
                for _ in range(megabytes if name.endswith("sheet1.xml") else 0):
                    part.write(b" " * 1_000_000)


def test_a_zip_bomb(refused, tmp_path):
    """A gigabyte of spaces in a few megabytes: refused by what the archive says of itself."""
    path = tmp_path / "log.xlsx"
    blown_up(path, 1000, level=1)
    assert path.stat().st_size < 5_000_000
    assert "unpacks to 10" in refused("load", path)


def test_a_smaller_zip_bomb(refused, tmp_path):
    """Under the limit of bytes, but a thousand times its size: no log is like that."""
    path = tmp_path / "log.xlsx"
    blown_up(path, 100)
    assert "unpacks to more than 200 times its size" in refused("load", path)


def test_an_archive_that_lies_about_its_size(refused, tmp_path):
    """A part said to be small is read no further than it was said to be, and found damaged."""
    path = tmp_path / "log.xlsx"
    blown_up(path, 50)
    with zipfile.ZipFile(path) as archive:
        size = next(item.file_size for item in archive.infolist() if item.filename.endswith("sheet1.xml"))
    raw = path.read_bytes()
    assert raw.count(size.to_bytes(4, "little")) >= 1
    path.write_bytes(raw.replace(size.to_bytes(4, "little"), (5000).to_bytes(4, "little")))
    assert "cannot be read as XLSX" in refused("load", path)


def test_one_far_cell(refused, tmp_path):
    """A few kilobytes that mean a sheet of 17 thousand million cells."""
    book, path = workbook(tmp_path / "log.xlsx")
    book.active["XFD1048576"] = 1
    book.save(path)
    assert path.stat().st_size < 10_000
    assert "16384 columns" in refused("load", path)


def test_entities_within_entities(refused, tmp_path):
    """A sheet whose XML names a text that names ten texts, ten deep."""
    names = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    bomb = f'<?xml version="1.0"?><!DOCTYPE worksheet [<!ENTITY e0 "0123456789">{names}]>'
    path = with_sheet(
        tmp_path / "log.xlsx",
        lambda text: bomb + text.replace("18.02", "&e9;").removeprefix('<?xml version="1.0"?>'),
    )
    assert "cannot be read as XLSX" in refused("load", path)


@pytest.mark.parametrize(
    ("what", "words"),
    [("rows", "6000000 rows"), ("columns", "300 columns"), ("text", "a text of 1000000 bytes"),
     ("lists", "lists or records")],
)  # fmt: skip
def test_a_parquet_bomb(refused, tmp_path, what, words):
    """A value stored once and meant in every row, and other ways to be larger than it looks."""
    path = tmp_path / "log.parquet"
    rows = {"rows": 6_000_000, "text": 100_000}.get(what, 1)
    value = "x" * 1_000_000 if what == "text" else "PG-01"
    column = pa.DictionaryArray.from_arrays(pa.array([0] * rows, pa.int32()), pa.array([value]))
    table = pa.table({"build": column} | {name: column for name in COLUMNS if what == "rows"})
    if what == "columns":
        table = pa.table({f"c{n}": [1] for n in range(300)})
    if what == "lists":
        table = pa.table({"build": [["a"] * 5]})
    pq.write_table(table, path)
    assert path.stat().st_size < 2_000_000
    assert words in refused("load", path)


def test_good_tables_are_within_the_limits(folder, tmp_path, monkeypatch):
    """Thousands of rows as XLSX and Parquet are no bombs, though every cell of a column is the same."""
    monkeypatch.setenv("DRYFIT_SHOP", str(folder))
    moments = pd.date_range("2025-03-01", periods=20_000, freq="min").strftime("%Y-%m-%dT%H:%M:%S")
    frame = pd.DataFrame(dict(zip(COLUMNS, GOOD, strict=True)) | {"taken_at": moments})
    frame.to_parquet(tmp_path / "log.parquet")
    assert run(["load", str(tmp_path / "log.parquet")]) == 0
    frame[:5000].to_excel(tmp_path / "log.xlsx", index=False)
    assert run(["load", str(tmp_path / "log.xlsx")]) == 0
    with open_store(f"sqlite:///{folder / 'readings.db'}") as store:
        assert len(store.readings()) == 20_000


@pytest.mark.parametrize(
    "name", ["../out.toml", "../../etc/x.toml", "/etc/x.toml", "a/../../b.toml", "..\\\\out.toml"]
)
def test_a_profile_outside_the_folder(refused, folder, name):
    """No name in shop.toml leads out of the shop's folder, whether a file is there or not."""
    (folder.parent / "out.toml").write_text('title = "not to be read"')
    text = (folder / "shop.toml").read_text()
    (folder / "shop.toml").write_text(
        text.replace("[instruments.CAL-1]", f'[instruments.CAL-1]\nprofile = "{name}"')
    )
    said = refused("plan")
    assert "must be a file beside shop.toml" in said
    assert "shop.toml:" in said


@pytest.mark.parametrize("build", ["../../out", "/etc/out", "..", "a/b", "a\\b", "~", "CON"])
def test_a_build_whose_name_is_a_path(folder, tmp_path, monkeypatch, build, log):
    """What is written for it stays in the folder it was to be written to."""
    monkeypatch.setenv("DRYFIT_SHOP", str(folder))
    run(["load", str(log(",".join(GOOD).replace("PG-01", build)))])
    out = tmp_path / "paper" / "here"
    before = {path for path in tmp_path.rglob("*") if path.is_file()}
    run(["ticket", build, "tail-block", "--out", str(out)])
    written = {path for path in tmp_path.rglob("*") if path.is_file()} - before
    kept = {folder / name for name in ("readings.db-wal", "readings.db-shm")}
    assert all(path.parent == out for path in written - kept)


def test_an_instrument_that_floods(folder, tell):
    """Megabytes of noise without an end of line, then a reading: the reading is kept, memory is bounded."""
    ours, theirs = pty.openpty()
    tty.setraw(theirs)
    text = (folder / "shop.toml").read_text()
    (folder / "shop.toml").write_text(
        text.replace("[instruments.CAL-1]", f'[instruments.CAL-1]\nurl = "{os.ttyname(theirs)}"')
    )
    profile, noise = load_profile("text-line"), bytes(n for n in range(256) if n not in b"\r\n") * 256
    sent = []

    def flood():
        sent.extend(os.write(ours, noise) for _ in range(1_000_000 // len(noise)))
        os.write(ours, b"\r\n" + encode(profile, Decimal("1.91")))

    words = [*PROGRAM, "measure", "PG-01", "side", "--instrument", "CAL-1", "--no-bell"]
    environment = {**os.environ, "DRYFIT_SHOP": str(folder)}
    with subprocess.Popen(
        words,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
    ) as program:
        threading.Timer(30, program.kill).start()
        said = [program.stdout.readline(), program.stdout.readline()]
        sender = threading.Thread(target=flood, daemon=True)
        sender.start()
        while "1.91" not in said[-1] and program.poll() is None:
            said.append(program.stdout.readline())
        status = Path(f"/proc/{program.pid}/status").read_text()
        peak = int(status.partition("VmHWM:")[2].split()[0]) // 1024
        program.stdin.write("q\n")
        program.stdin.close()
        assert program.stderr.read() == ""
    sender.join(10)
    os.close(ours)
    os.close(theirs)
    with open_store(f"sqlite:///{folder / 'readings.db'}") as store:
        values = [row.value for row in store.readings() if not row.held]
    assert values == [1.91]
    assert peak < 400
    tell(f"{sum(sent) / 1e6:.1f} MB of noise, {len(said)} lines told, one reading kept, {peak} MB at most")
