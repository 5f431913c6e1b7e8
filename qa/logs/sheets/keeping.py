"""Keeps layouts in the shop's folder as TOML, one file for each header row, to be edited by hand."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from qa.errors import PlanError, PlanProblem, ShopError
from qa.logs.sheets.layout import PER_FILE, UNDECIDED, Layout, clashes
from qa.logs.sheets.names import PlanNames
from qa.plans.toml_edit import put, quoted
from qa.plans.toml_text import parse_toml, read_toml_text
from qa.whole import write_whole

FOLDER, SHEET = "sheets", "sheet"
HEAD = """\
# How `dryfit load` reads every sheet that has these columns. Edit it freely; without this file it asks again.
"""
_TABLES = {
    "columns": "what each holds: a column of the log; a value, and what its name says of it; or leave",
    "same": "what is the same in every row",
    "names": "a name of the sheet: what the plan calls it, or leave; of a total leave, or read",
}


def kept_layout(folder: Path, columns: Sequence[str], names: PlanNames) -> Layout | None:
    """The layout kept for sheets of those columns, in any order; None where there is none.

    PlanError lists every problem of that layout with its line, and any file there that is no layout at all.
    """
    matching: list[Path] = []
    for path in sorted((folder / FOLDER).glob("*.toml")):
        table = parse_toml(_text(path), _shown(path)).get("columns")
        if not isinstance(table, Mapping):
            raise PlanError([PlanProblem(_shown(path), None, "columns", "is missing: a table of columns")])
        if set(table) == set(columns):
            matching.append(path)
    if len(matching) > 1:
        why = f"has the same columns as {_shown(matching[0])}: delete one of the two"
        raise PlanError([PlanProblem(_shown(matching[1]), None, "", why)])
    return read_layout(_text(matching[0]), _shown(matching[0]), names) if matching else None


def kept_names(folder: Path) -> tuple[set[str], list[str]]:
    """The columns, and the sheets of workbooks, that kept layouts name; files that are none do not count."""
    columns: set[str] = set()
    sheets: list[str] = []
    for path in sorted((folder / FOLDER).glob("*.toml")):
        with suppress(PlanError):
            tables = parse_toml(_text(path), path.name)
            columns |= set(table) if isinstance(table := tables.get("columns"), Mapping) else set()
            sheets += [title] if isinstance(title := tables.get(SHEET), str) and title.strip() else []
    return columns, sheets


def read_layout(text: str, file: str, names: PlanNames) -> Layout:
    """A layout from the text of its file; PlanError lists every problem at once, each with its line."""
    tables = parse_toml(text, file)
    problems = [
        PlanProblem(file, _line(text, "", key), key, "is no table of a layout")
        for key in tables.keys() - _TABLES - {SHEET}
    ]
    title = tables.get(SHEET, "")
    if not isinstance(title, str):
        why = f"must be text in quotes, not {title!r}"
        problems.append(PlanProblem(file, _line(text, "", SHEET), SHEET, why))
    layout = Layout(sheet=str(title), source=file)
    for table in _TABLES:
        entries = tables.get(table, {})
        if not isinstance(entries, Mapping):
            problems.append(PlanProblem(file, _line(text, "", table), table, "must be a table"))
            continue
        for key, words in entries.items():
            try:
                if not isinstance(words, str):
                    raise ShopError(f"must be text in quotes, not {words!r}")
                layout = layout.with_(table, key, words, names)
            except ShopError as error:
                problems.append(PlanProblem(file, _line(text, table, key), f"{table}.{key}", str(error)))
    problems += [
        PlanProblem(file, _line(text, table, key), f"{table}.{key}", why)
        for table, key, why in clashes(layout)
    ]
    if problems:
        raise PlanError(problems)
    return layout


def layout_text(layout: Layout, undecided: Mapping[tuple[str, str], str] | None = None) -> str:
    """A layout as TOML; what is undecided, by table and key, as a comment that says what to write there."""
    open_keys = undecided or {}
    lines = [HEAD]
    if layout.sheet:
        lines.append(f"{SHEET} = {quoted(layout.sheet)}  # of a workbook whose first sheet has no layout\n")
    for table, says in _TABLES.items():
        entries = {key: str(words) for key, words in getattr(layout, table).items()}
        todo = {key: why for (where, key), why in open_keys.items() if where == table}
        if not entries and not todo:
            continue
        lines.append(f"[{table}]  # {says}")
        lines += [f"{quoted(key)} = {quoted(words)}" for key, words in entries.items() if key not in todo]
        lines += [
            f"{quoted(key)} = {quoted(UNDECIDED)}  # {' '.join(why.split())}" for key, why in todo.items()
        ]
        lines.append("")
    return "\n".join(lines)


def per_file(layout: Layout) -> list[str]:
    """What was said of every row and may be another in the next sheet: what its readings are of."""
    return [key for key in PER_FILE if key in layout.same]


def keep_layout(folder: Path, layout: Layout, name: str, also: Collection[str] = ()) -> str:
    """Write a layout where it is found again, under the name of its first sheet; the file's name.

    Of what is said `per_file` only that which `also` names is kept. One that was kept before has added to it
    what is new, with its comments as they are. ShopError where it cannot be written.
    """
    asked = [key for key in per_file(layout) if key not in also]
    lasting = replace(layout, same={key: words for key, words in layout.same.items() if key not in asked})
    if layout.source:
        _add(folder / layout.source, lasting)
        return layout.source
    stem = re.sub(r"[^\w-]+", "-", name).strip("-") or "sheet"
    target = folder / FOLDER / f"{stem}.toml"
    number = 2
    while target.exists():
        target = target.with_name(f"{stem}-{number}.toml")
        number += 1
    note = f"# Asked for each file, unless it stands under [same]: {', '.join(asked)}\n" if asked else ""
    _write(target, layout_text(lasting) + note)
    return _shown(target)


def _add(path: Path, layout: Layout) -> None:
    """What a kept layout does not say yet, put at the end of its tables."""
    shown = _shown(path)
    text = before = _text(path)
    tables = parse_toml(text, shown)
    if layout.sheet and SHEET not in tables:
        text = put(text, [SHEET], quoted(layout.sheet), shown)
    for table in _TABLES:
        kept = tables.get(table, {})
        for key, words in getattr(layout, table).items():
            if isinstance(kept, Mapping) and key not in kept:
                text = put(text, [table, key], quoted(str(words)), shown)
    if text != before:
        _write(path, text)


def _write(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(exist_ok=True)
        write_whole(path, text)
    except OSError as error:
        raise ShopError(f"{_shown(path)} cannot be written: {error.strerror}") from error


def _text(path: Path) -> str:
    return read_toml_text(path, _shown(path))


def _shown(path: Path) -> str:
    return f"{FOLDER}/{path.name}"


def _line(text: str, table: str, key: str) -> int | None:
    """The line on which a key of a table stands, whatever its quotes; of the table where it is not found."""
    here, best = "", None
    for number, line in enumerate(text.splitlines(), 1):
        with suppress(tomllib.TOMLDecodeError):
            parsed = tomllib.loads(line)
            if line.lstrip().startswith("["):
                here = next(iter(parsed), "")
                best = number if here == table or (not table and here == key) else best
            elif key in parsed and here == table:
                return number
    return best
