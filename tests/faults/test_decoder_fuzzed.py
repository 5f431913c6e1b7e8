"""Bytes chosen by coverage for the decoder of every shipped profile; and a fault would be found."""

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import drivers

SECONDS = 600
MEMORY = 1_500_000_000
# Begun from a small process: the most memory a program has held counts what was held before it was loaded,
# which would be that of the tests before.
SMALL = ("sh", "-c", f'ulimit -d {MEMORY // 1024}; "$@"; exit $?', "sh")
FUZZ = Path(__file__).with_name("fuzz_decoder.py")
PLANTED = {  # what is spoilt in a copy of the drivers: module, as it is, as it would be wrong
    "a header cut by two chunks is not seen": (
        "framed_records",
        "for tail in range(min(len(self._header) - 1, len(buffer) - start), 0, -1):",
        "for tail in ():",
    ),
    "a line that is too long is told only within one chunk": (
        "text_records", "if len(rest) > self._layout.longest:", "if len(data) > self._layout.longest:",
    ),
    "half a line is forgotten": ("text_records", "self._split(self._rest + data)", "self._split(data)"),
    "noise is cut where the chunk ends": ("framed_records", "noise = self._noise + noise", "noise = noise"),
    "a number without a meaning raises": (
        "bcd", "layout.units.get(groups[layout.unit])", "layout.units[groups[layout.unit]]",
    ),
    "the rest of a line that is too long is kept": (
        "text_records", 'rest if self._skip != "" else b""', "rest or data",
    ),
    "a record that is not plausible is tried for ever": (
        "framed_records", "BadRecord(frame[: self._seek(frame, 1)], why, at)", 'BadRecord(b"", why, at)',
    ),
    "of many lines in one chunk some are left out": (
        "text_records", "for line in lines if line]", "for line in lines[-9:] if line]",
    ),
}  # fmt: skip

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("atheris") is None,
    reason="atheris is missing (made for Linux on x86_64 only): no bytes chosen by coverage were tried",
)


@pytest.fixture
def fuzz(tmp_path):
    """Fuzzes so many times in a process of its own; with the drivers of a folder, where one is given."""

    def go(runs, packages=None):
        corpus = tmp_path / f"corpus-{packages.name if packages else ''}"
        corpus.mkdir()
        return subprocess.run(
            [*SMALL, sys.executable, FUZZ, corpus, f"-runs={runs}", f"-max_total_time={SECONDS}", "-seed=1",
             "-max_len=300", "-len_control=0", "-timeout=20", "-rss_limit_mb=300", "-print_final_stats=1"],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace", check=False,
            cwd=tmp_path, timeout=SECONDS + 100,
            env={**os.environ, "PYTHONHASHSEED": "0", **({"PYTHONPATH": str(packages)} if packages else {})},
        )  # fmt: skip

    return go


def test_any_bytes_in_any_chunks(fuzz, times, tell):
    """No exception, no hang, a bound on memory, and every chunking reads and notes what the whole does."""
    done = fuzz(times(2_500, 1_000_000))
    assert done.returncode == 0, done.stdout[-3000:]
    runs = re.search(r"number_of_executed_units: (\d+)", done.stdout)
    memory = re.search(r"peak_rss_mb: +(\d+)", done.stdout)
    edges, _, kept = re.findall(r"cov: (\d+) ft: (\d+) corp: (\d+)", done.stdout)[-1]
    assert int(edges) > 100, "the decoder was not watched while it read"
    tell(f"{runs[1]} inputs, {edges} edges, {kept} kept, {memory[1]} MB at most, no fault")


def test_a_planted_fault_is_found(fuzz, times, tell, tmp_path):
    """A copy of the drivers with one line spoilt does not pass."""
    tries = []
    for name in list(PLANTED)[: times(1, len(PLANTED))]:
        module, as_is, spoilt = PLANTED[name]
        copy = tmp_path / name.replace(" ", "-")
        shutil.copytree(Path(drivers.__path__[0]), copy / "drivers")
        path = copy / "drivers" / f"{module}.py"
        text = path.read_text(encoding="utf-8")
        assert text.count(as_is) == 1, f"{name}: {module}.py has no such line any more"
        path.write_text(text.replace(as_is, spoilt), encoding="utf-8")
        done = fuzz(1_000_000, copy)
        assert done.returncode != 0, name
        assert "ERROR: libFuzzer" in done.stdout, done.stdout[-3000:]
        tries += re.findall(r"number_of_executed_units: (\d+)", done.stdout)
    tell(f"{len(tries)} of {len(tries)} found, after {', '.join(tries)} inputs")
