"""TOML text and where in it a key stands, for messages that name the line."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from qa.errors import PlanError, PlanProblem

_TWICE = ("Cannot mutate", "Cannot overwrite", "Cannot declare", "Duplicate")


def read_toml_text(path: Path, shown: str) -> str:
    """The text of a file, its line ends as they are; PlanError, which calls it `shown`, where it is none."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        why = f"cannot be read: {error.strerror}"
        raise PlanError([PlanProblem(shown, None, "", why)]) from error
    except UnicodeDecodeError as error:
        raise PlanError([PlanProblem(shown, None, "", "is not UTF-8 text; save it as UTF-8")]) from error


def parse_toml(text: str, file: str) -> dict[str, object]:
    """The TOML table of a file's text; PlanError with the line where it is not valid TOML."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        line = int(found[1]) if found else None
        column = f" at column {found[2]}" if found else ""
        said = str(error).partition(" (at")[0]
        twice = ": a name is given twice" if said.startswith(_TWICE) else ""
        why = f"is not valid TOML{column}: {said}{twice}"
        raise PlanError([PlanProblem(file, line, "", why)]) from error
    except (ValueError, RecursionError) as error:  # a number of thousands of digits, or brackets without end
        raise PlanError(
            [PlanProblem(file, None, "", "holds a number or brackets beyond all sense")]
        ) from error


def line_of(text: str, key: str) -> int | None:
    """The line, from 1, on which a dotted key stands in TOML text; of its table where the key is absent."""
    names = key.split(".")
    table, best = "", None
    for number, line in enumerate(text.splitlines(), 1):
        header = re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line)
        entry = re.match(r"\s*([\w.\-\"']+)\s*=", line)
        if header:
            table = header[1]
            depth = _depth(names, table)
        elif entry:
            depth = _depth(names, f"{table}.{entry[1]}".lstrip("."))
        else:
            continue
        if depth and (best is None or depth > best[0]):
            best = depth, number
    return best[1] if best else None


def _depth(names: list[str], key: str) -> int:
    """How many leading names of a dotted key are spelled by `key`; 0 unless all of `key` leads to it."""
    spelled = [name.strip("\"' ") for name in key.split(".")]
    return len(spelled) if names[: len(spelled)] == spelled else 0
