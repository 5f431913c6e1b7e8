"""Runs `dryfit`: in this process where its answer is all that counts, as a program where it must be one."""

import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from qa.cli import run
from qa.store.store import open_store

ENVIRONMENT = {**os.environ, "NO_COLOR": "1", "COLUMNS": "200"}
PROGRAM = [sys.executable, "-c", "from qa.cli import main; main()"]


@dataclass(frozen=True)
class Answer:
    """What the command said and left with."""

    status: int
    out: str
    err: str

    @property
    def json(self):
        """Its stdout, which must be one JSON document and nothing else."""
        return json.loads(self.out)


@pytest.fixture
def dryfit(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Callable[..., Answer]:
    """Runs the command in this process, in the small shop, with lines typed to it."""
    monkeypatch.setenv("DRYFIT_SHOP", str(folder))

    def answer(*arguments: object, typed: str | None = None) -> Answer:
        capsys.readouterr()
        if typed is not None:
            monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        try:
            status = run([str(item) for item in arguments])
        except SystemExit as left:  # only argument parsing of help and version leaves this way
            status = int(left.code or 0)
        said = capsys.readouterr()
        return Answer(status, said.out, said.err)

    return answer


@pytest.fixture
def refused(dryfit: Callable[..., Answer]) -> Callable[..., str]:
    """Runs a command that must be refused: exit 2, one clear line on stderr and nothing on stdout."""

    def line(*arguments: object) -> str:
        found = dryfit(*arguments)
        assert found.status == 2, found
        assert found.out == ""
        assert "Traceback" not in found.err
        assert found.err.endswith("\n")
        assert found.err.count("\n") == 1, found.err
        assert found.err.startswith("dryfit: ")
        return found.err.strip()

    return line


@pytest.fixture
def program(folder: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Runs the command as a program of its own, in the small shop, with lines typed to it."""

    def answer(*arguments: object, typed: str = "", **options: object) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [*PROGRAM, *map(str, arguments)],
            input=typed, capture_output=True, text=True, timeout=60, check=False,
            env=ENVIRONMENT | {"DRYFIT_SHOP": str(folder)}, **options,
        )  # type: ignore[call-overload,no-any-return]  # fmt: skip

    return answer


@pytest.fixture
def command_line(folder: Path) -> tuple[list[str], dict[str, str]]:
    """The words that run `dryfit` as a program, and the environment that names the small shop."""
    return PROGRAM, ENVIRONMENT | {"DRYFIT_SHOP": str(folder)}


@pytest.fixture
def stored(folder: Path):
    """The readings in the small shop's store."""

    def rows():
        with open_store(f"sqlite:///{folder / 'readings.db'}") as store:
            return store.readings()

    return rows
