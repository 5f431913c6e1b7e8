"""The rules of the house: which way imports point, what stands at the top, how large a file may grow."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

HOUSE = Path(__file__).parent.parent
PACKAGES = ("qa", "drivers", "dashboard")
TOP = {
    ".ci", ".git", ".gitignore", ".pre-commit-config.yaml", "DEVELOPERS.md", "LICENSE", "README.md",
    "dashboard", "drivers", "pyproject.toml", "qa", "sample_logs", "tests",
}  # fmt: skip
MOST_LINES = 300
MODULES = sorted(path for package in PACKAGES for path in (HOUSE / package).rglob("*.py"))
TESTS = sorted((HOUSE / "tests").rglob("test_*.py"))
ARITHMETIC = (
    "uncertainty", "conformity", "geometry", "stock", "wood", "charts", "capability", "trend",
    "repeatability", "arithmetic.finite", "arithmetic.doubt",
)  # fmt: skip
HEAVY = (
    "pandas",
    "sqlalchemy",
    "pandera",
    "dash",
    "plotly",
    "qa.store.store",
    "qa.shop",
    "qa.bench.capture",
    "qa.logs.loading",
)


def name_of(path):
    """A file by its place in the house."""
    return str(path.relative_to(HOUSE))


def test_imports_point_one_way(monkeypatch):
    """As tests/importlinter.ini says; a failure prints each chain of imports."""
    monkeypatch.chdir(HOUSE)
    assert lint_imports(config_filename="tests/importlinter.ini", no_cache=True) == 0


@pytest.mark.parametrize("module", ARITHMETIC)
def test_arithmetic_loads_neither_frames_nor_a_database(module):
    """Importing it brings no store, no pandas and no page."""
    code = f"import sys, qa.{module}; print([n for n in {HEAVY!r} if n in sys.modules])"
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=HOUSE
    )
    assert found.stdout.strip() == "[]"


def test_only_what_belongs_stands_at_the_top():
    """What git keeps at the top of the house; everything else has a room."""
    listed = subprocess.run(["git", "ls-files"], cwd=HOUSE, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a checkout of git")
    found = {line.partition("/")[0] for line in listed.stdout.splitlines()}
    assert found <= TOP
    assert found >= {"README.md", "pyproject.toml", *PACKAGES, "tests", "sample_logs"}


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_every_module_says_what_it_is_for_and_is_short(path):
    """A docstring first, unless it is empty, and at most 300 lines."""
    text = path.read_text(encoding="utf-8")
    assert text.strip() == "" or ast.get_docstring(ast.parse(text))
    assert text.count("\n") <= MOST_LINES


@pytest.mark.parametrize("path", TESTS, ids=name_of)
def test_every_test_says_what_it_checks(path):
    """A docstring on each test, and in each at least one thing that may fail."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert ast.get_docstring(tree)
    tests = [
        item for item in ast.walk(tree) if isinstance(item, ast.FunctionDef) and item.name.startswith("test_")
    ]
    assert tests
    silent = [item.name for item in tests if not ast.get_docstring(item)]
    assert silent == []


def test_prints_go_through_one_place():
    """Only the command and the dashboard's server write to the terminal; packages below stay silent."""
    loud = [
        name_of(path)
        for path in MODULES
        if "print(" in path.read_text(encoding="utf-8") and "cli" not in path.parts and _prints(path)
    ]
    assert loud == []


def _prints(path):
    calls = [item.func for item in ast.walk(ast.parse(path.read_text())) if isinstance(item, ast.Call)]
    return any(isinstance(func, ast.Name) and func.id == "print" for func in calls)
