"""A disk that is full, a store that may only be read: one clear line, and nothing lost or half loaded."""

import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from qa.cli import run
from qa.cli.verdicts import MARKS
from qa.store.store import open_store

NOBODY = 65534


@pytest.fixture
def small_disk(tmp_path):
    """A disk of 2 MB, where this machine lets the tests mount one."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(place)]
    made = subprocess.run(mount, capture_output=True, text=True, check=False)
    if made.returncode != 0:
        pytest.skip(f"no small disk can be mounted here: {made.stderr.strip()}")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


@pytest.fixture
def on_small_disk(small_disk, folder):
    """The small shop, moved to the small disk."""
    place = small_disk / "shop"
    shutil.copytree(folder, place)
    return place


def rows_in(place):
    """How many readings the store of a shop holds."""
    with open_store(f"sqlite:///{place / 'readings.db'}") as store:
        return len(store.readings())


def fill(place):
    """Leave no room on the disk."""
    with (place / "filler").open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError:
            pass


def test_a_log_too_large_for_the_disk_is_not_half_loaded(refused, dryfit, on_small_disk, log, good_row):
    """Nothing of it is stored, what was there before is, and once there is room it loads."""
    assert dryfit("load", log(good_row(0)), "--shop", on_small_disk).status == 0
    many = log(*[good_row(n) for n in range(1, 12_000)], name="many.csv")
    assert "disk" in refused("load", many, "--shop", on_small_disk)
    assert rows_in(on_small_disk) == 1
    few = log(*[good_row(n) for n in range(1, 50)], name="few.csv")
    assert dryfit("load", few, "--shop", on_small_disk).status == 0
    assert rows_in(on_small_disk) == 50


def test_measuring_on_a_full_disk_acknowledges_nothing(program, dryfit, on_small_disk, log, good_row):
    """The reading that could not be stored is refused in one line; with room again nothing is missing."""
    assert dryfit("load", log(good_row(0)), "--shop", on_small_disk).status == 0
    fill(on_small_disk)
    found = program("measure", "PG-01", "tail-block", "--shop", on_small_disk, typed="18.01\n" * 200 + "q\n")
    assert found.returncode == 2
    assert "Traceback" not in found.stderr
    assert len(found.stderr.splitlines()) == 1
    assert "disk" in found.stderr
    (on_small_disk / "filler").unlink()
    acknowledged = found.stdout.count("thickness") // 2  # asked for, then answered
    assert rows_in(on_small_disk) >= max(acknowledged, 1)


def test_partial_with_no_room_for_the_rejects(refused, dryfit, small_disk, folder, good_row):
    """The rejects are lost to nobody: then nothing is loaded either."""
    path = small_disk / "log.csv"
    header = "taken_at,build,part,characteristic,station,value,unit,instrument"
    bad = [f"soon,{'x' * 60},p,c,s,1,mm,C"] * 2000
    path.write_text("\n".join([header, good_row(0), *bad]) + "\n", encoding="utf-8")
    fill(small_disk)
    found = dryfit("load", path, "--partial")
    assert found.status == 2
    assert "rejected.csv cannot be written" in found.err
    assert rows_in(folder) == 0


def in_a_copy(place, prepare, arguments, typed=""):
    """Run the command in a copy of this process that is prepared first; its status, stdout and stderr."""
    said = [(place / name).open("w+") for name in ("out", "err")]
    (place / "typed").write_text(typed)
    child = os.fork()
    if child == 0:
        status = 99
        try:
            sys.stdout, sys.stderr = said
            sys.stdin = (place / "typed").open()
            prepare()
            status = run([str(item) for item in arguments])
        finally:
            for file in said:
                file.flush()
            os._exit(status)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    texts = []
    for file in said:
        file.seek(0)
        texts.append(file.read())
        file.close()
    return status, *texts


def test_files_that_may_grow_no_further(dryfit, folder, log, good_row, tmp_path):
    """As on a full disk, at several sizes: one line says so, and what was acknowledged is kept."""
    assert dryfit("load", log(*[good_row(n) for n in range(500)])).status == 0
    dryfit("check")  # loads what a copy then need not load again
    many = log(*[good_row(n) for n in range(500, 3000)], name="many.csv")
    typed = "18.01\n18.02\n17.99\n18.0\n0.05\n" * 8
    taken = 0
    for limit in (60_000, 300_000):

        def held_back(limit=limit):
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

        kept = rows_in(folder)
        status, out, err = in_a_copy(tmp_path, held_back, ["load", many])
        assert (status, out, err.count("\n")) == (2, "", 1)
        assert "disk" in err
        assert rows_in(folder) == kept
        measure = ["measure", f"at {limit}", "tail-block", "--instrument", "CAL-1"]
        status, out, err = in_a_copy(tmp_path, held_back, measure, typed)
        acknowledged = sum(f" {mark} thickness " in out_line or f" {mark} squareness " in out_line
                           for out_line in out.splitlines() for mark in MARKS.values())  # fmt: skip
        assert acknowledged <= rows_in(folder) - kept <= acknowledged + 1
        assert (status, err.count("\n")) == (2, 1)
        assert "disk" in err
        taken += acknowledged
    assert taken > 5
    assert dryfit("verify").status == 0


@pytest.fixture
def as_nobody(tmp_path, dryfit, log, good_row):
    """Runs the command as a user who may write nowhere, in a copy of this process."""
    if os.geteuid() != 0:
        pytest.skip("only root can become another user")
    dryfit("load", log(good_row(90), name="first.csv"))
    dryfit("check")

    def become():
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)

    return lambda *arguments: in_a_copy(tmp_path, become, arguments)


@pytest.fixture
def open_place():
    """A folder that other users may enter."""
    place = Path(tempfile.mkdtemp(prefix="dryfit-", dir="/tmp"))
    place.chmod(0o755)
    yield place
    for item in place.rglob("*"):
        item.chmod(0o755)
    shutil.rmtree(place)


def test_a_store_that_may_only_be_read(as_nobody, open_place, folder, log, good_row):
    """`check` works for everybody; what would write says plainly that it cannot."""
    shutil.copytree(folder, open_place / "shop")
    shutil.copy(log(good_row(1)), open_place / "log.csv")
    for item in open_place.rglob("*"):
        item.chmod(0o555 if item.is_dir() else 0o444)
    shop = ("--shop", open_place / "shop")
    status, out, err = as_nobody("check", "PG-01", "tail-block", *shop)
    assert (status, err) == (1, "")
    assert "18.02 mm" in out
    status, out, err = as_nobody("load", open_place / "log.csv", *shop)
    assert (status, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert "the store is read-only" in err
    assert rows_in(open_place / "shop") == 1


def test_a_log_that_may_not_be_read(as_nobody, open_place, folder, log, good_row):
    """Named, with the reason."""
    shutil.copytree(folder, open_place / "shop")
    for item in (open_place / "shop", *(open_place / "shop").iterdir()):
        item.chmod(0o777)
    shutil.copy(log(good_row(0)), open_place / "log.csv")
    (open_place / "log.csv").chmod(0)
    status, _, err = as_nobody("load", open_place / "log.csv", "--shop", open_place / "shop")
    assert status == 2
    assert "log.csv' is not readable" in err
    assert len(err.splitlines()) == 1
