"""Files of all sorts, near misses above all: loaded, or refused with a reason; never a traceback."""

import contextlib
import io
import zipfile

import pandas as pd
import pytest

from qa.cli import run

HEADER = "taken_at,build,part,characteristic,station,value,unit,instrument"
ROW = "2025-03-01T09:{:02d}:00,PG-01,tail-block,thickness,top-left,18.{:02d},mm,CAL-1"
BITS = (
    "", ",", ",,", '"', '""', "'", "\n", "\r", "\r\n", "\x00", "\x1f", "\t", ";", "é", "½", "\u2028",
    "\ufeff", "\U0001f333", "NaN", "inf", "-inf", "1e999", "1e-999", "-0", "0x10", "1_000", "18,02", "1 1/4",
    "1/0", "18.02.1", "9" * 400, "=1+1", "@SUM(A1)", "true", "null", "None", "[", "]", "{", "}", "[[", "=",
    "==", "#", "\\", '"""', "2025-13-01", "2025-03-01T25:00", "0000-00-00", "9999-12-31T23:59:59", "1e5",
    "-1", "mm", "%", "deg", "\x7f", "\u202e", "top-left", "kind", "limit", "target = nan", "tolerance = -1",
    "stations = {}",
)  # fmt: skip


def said_of(*words):
    """Run the command in this process; its status and stderr."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = run([str(word) for word in words])
    return status, err.getvalue()


def near_miss(text, chance):
    """A text with a few slips: something put in, taken out, doubled, exchanged or cut off."""
    for _ in range(chance.choice([1, 1, 1, 2, 5])):
        at = chance.randrange(len(text) + 1)
        length = chance.choice([1, 1, 3, 20, len(text)])
        match chance.randrange(5):
            case 0:
                text = text[:at] + chance.choice(BITS) + text[at:]
            case 1:
                text = text[:at] + text[at + length :]
            case 2:
                text = text[:at] + text[at : at + length] * 2 + text[at + length :]
            case 3:
                text = text[:at] + chance.choice(BITS) + text[at + length :]
            case 4:
                lines = text.split("\n")
                chance.shuffle(lines)
                text = "\n".join(lines)
    return text


def bytes_of(text, chance):
    """Mostly UTF-8; at times another encoding, or with a few bytes overwritten."""
    match chance.randrange(12):
        case 0:
            return text.encode("utf-16")
        case 1:
            return text.encode("latin-1", "replace")
        case 2:
            raw = bytearray(text.encode())
            for _ in range(3):
                raw[chance.randrange(len(raw))] = chance.randrange(256) if raw else 0
            return bytes(raw)
    return text.encode("utf-8", "surrogatepass")


def judge(name, status, err):
    """A file is taken in silence, or refused with status 2 and lines that name the reason."""
    assert "Traceback" not in err, err
    assert status in (0, 2), (name, status, err)
    if status == 2:
        assert err.startswith("dryfit: ")
        assert len(err.split(": ", 2)[-1].strip()) > 10, err
    return status


@pytest.fixture
def try_all(folder, monkeypatch, tell, times):
    """Tries so many files that a function makes, and tells how many were taken and how many refused."""
    monkeypatch.setenv("DRYFIT_SHOP", str(folder))

    def go(ordinary, long, make, *command):
        refused, count = 0, times(ordinary, long)
        for number in range(count):
            path = make(number)
            status, err = said_of(*command, *([path] if command[0] == "load" else []))
            refused += judge(path, status, err) == 2
        assert refused > count / 20
        tell(f"{count} files: {count - refused} taken, {refused} refused with a reason, 0 tracebacks")

    return go


def test_csv(try_all, tmp_path, chance):
    """Logs in CSV: random bytes, and near misses of a good log."""

    def make(number):
        path = tmp_path / "log.csv"
        rows = [ROW.format(chance.randrange(60), chance.randrange(100)) for _ in range(chance.randrange(6))]
        text = near_miss("\n".join([HEADER, *rows]) + "\n", chance)
        path.write_bytes(chance.randbytes(200) if number % 10 == 0 else bytes_of(text + "\n", chance))
        return path

    try_all(550, 6000, make, "load")


OWN = "guitar,piece,date,bottom left,TOP-LEFT (in),by\n"
OWN_LAYOUT = """\
[columns]
guitar = "build"
piece = "part"
date = "taken_at"
"bottom left" = "value, station bottom-left"
"TOP-LEFT (in)" = "value, station top-left, unit in"
by = "leave"
[same]
unit = "mm"
dates = "day first"
instrument = "CAL-1"
"""


def test_own_sheets(try_all, tmp_path, folder, chance):
    """Sheets with a builder's own columns, and the file that says how they are read: near misses of both."""
    (folder / "sheets").mkdir()
    layout = folder / "sheets" / "own.toml"

    def make(number):
        path = tmp_path / "own.csv"
        rows = "".join(f"PG-01,Tail Block,{n + 1}/4/2025,18.{n:02d},0.70{n},me\n" for n in range(5))
        kind = number % 3
        for old in layout.parent.iterdir():
            old.unlink()
        layout.write_bytes(
            bytes_of(near_miss(OWN_LAYOUT, chance), chance) if kind == 0 else OWN_LAYOUT.encode()
        )
        rows = OWN + (near_miss(rows, chance) if kind == 1 else rows)
        path.write_bytes(bytes_of(near_miss(rows, chance) if kind == 2 else rows, chance))
        return path

    try_all(40, 3000, make, "load")


def test_toml(try_all, folder, plan_text, chance):
    """Plans and shop.toml: near misses of good ones; the shop is looked at as `dryfit plan` does."""
    good = {"plans/parlour-guitar.toml": plan_text, "shop.toml": (folder / "shop.toml").read_text()}

    def make(number):
        for name, text in good.items():
            (folder / name).write_text(text)
        name = "shop.toml" if number % 3 == 0 else "plans/parlour-guitar.toml"
        (folder / name).write_bytes(bytes_of(near_miss(good[name], chance), chance))
        return folder / name

    try_all(350, 3000, make, "plan")


def test_xlsx_and_parquet(try_all, tmp_path, chance):
    """Tables of other programs: bytes overwritten or cut off, and parts within the archive changed."""
    frame = pd.read_csv(io.StringIO("\n".join([HEADER, *(ROW.format(n, n) for n in range(5))])))
    frame.to_excel(tmp_path / "good.xlsx", index=False)
    frame.to_parquet(tmp_path / "good.parquet")

    def make(number):
        good = tmp_path / ("good.parquet" if number % 3 == 0 else "good.xlsx")
        path = tmp_path / f"log{good.suffix}"
        if number % 3 == 1:
            _part_changed(good, path, chance)
            return path
        raw = bytearray(good.read_bytes())
        for _ in range(chance.choice([1, 5, 50])):
            raw[chance.randrange(len(raw))] = chance.randrange(256)
        path.write_bytes(raw[: chance.randrange(len(raw))] if chance.random() < 0.3 else raw)
        return path

    try_all(100, 1000, make, "load")


def _part_changed(good, path, chance):
    with zipfile.ZipFile(good) as source, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target:
        chosen = chance.choice(source.namelist())
        for name in source.namelist():
            content = source.read(name)
            if name == chosen:
                content = near_miss(content.decode(), chance).encode("utf-8", "replace")
            target.writestr(name, content)
