"""Changes TOML text key by key: everything else, its comments, its order and its layout, stays to the letter.

A path is the names that lead to a key. Each change is proved before it is given back: read anew, the text
holds what it held and that change. Where it would not, as with tables torn into several places, PlanError
says so and the file is for a text editor.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

from qa.errors import PlanError, PlanProblem

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

Path: TypeAlias = Sequence[str]
_GONE = object()


@dataclass(frozen=True, slots=True)
class _Block:
    """The lines of one [table]: from the comments right above its header to those of the next one."""

    path: tuple[str, ...]
    start: int
    header: int
    end: int


def parsed(text: str, file: str) -> TOMLDocument:
    """A TOML text with its layout; PlanError where it is none."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise PlanError([PlanProblem(file, None, "", f"is not valid TOML: {error}")]) from error


def literal(name: str) -> str:
    """A name as a key of TOML, quoted where it must be."""
    import tomlkit

    return str(tomlkit.key(name).as_string())


def quoted(text: str) -> str:
    """A text as a value of TOML."""
    import tomlkit

    return str(tomlkit.string(text).as_string())


def put(text: str, path: Path, value: str, file: str) -> str:
    """The text with a key set to a value, itself TOML; a table that is not there yet is made."""
    import tomlkit

    document = parsed(text, file)
    table, name = _at(document, path[:-1]), path[-1]
    if table is not _GONE and name in table:
        _replace(table, name, value)
        changed = tomlkit.dumps(document)
    elif _is_inline(table):
        _set_inline(document, path[:-1], {**_written(table), name: value})
        changed = tomlkit.dumps(document)
    else:
        changed = _with_line(text, path, value)
    return _proved(text, changed, path, tomllib.loads(f"v = {value}")["v"], file)


def put_table(text: str, path: Path, body: Sequence[tuple[str, str]], file: str) -> str:
    """The text with a new table below those of its like, holding each (name, value) of `body`."""
    if _is_inline(_at(parsed(text, file), path[:-1])):
        return put(text, path, _inline(dict(body)), file)
    changed = _with_block(text, path, [f"{literal(name)} = {value}" for name, value in body])
    made = {name: tomllib.loads(f"v = {value}")["v"] for name, value in body}
    return _proved(text, changed, path, made, file)


def drop(text: str, path: Path, file: str) -> str:
    """The text without a key or a table, with the comments that belong to it."""
    import tomlkit

    lines = _lines(text)
    gone = [block for block in _blocks(lines) if block.path[: len(path)] == tuple(path)]
    if gone:
        for block in reversed(gone):
            del lines[block.start : block.end]
        changed = "".join(lines)
    else:
        document = parsed(text, file)
        table = _at(document, path[:-1])
        if _is_inline(table):
            left = {name: value for name, value in _written(table).items() if name != path[-1]}
            _set_inline(document, path[:-1], left)
        else:
            del table[path[-1]]
        changed = tomlkit.dumps(document)
    return _proved(text, changed, path, _GONE, file)


def _replace(table: Any, name: str, value: str) -> None:
    """A list of the same length keeps its spaces; else the value is exchanged."""
    import tomlkit
    from tomlkit.items import Array

    new, old = tomlkit.value(value), table[name]
    if isinstance(old, Array) and isinstance(new, Array) and len(old) == len(new):
        for index, item in enumerate(new):
            if item.as_string() != old[index].as_string():
                old[index] = item
    else:
        table[name] = new


def _at(document: Any, path: Path) -> Any:
    for name in path:
        if not hasattr(document, "keys") or name not in document:
            return _GONE
        document = document[name]
    return document


def _is_inline(table: Any) -> bool:
    from tomlkit.items import InlineTable

    return isinstance(table, InlineTable)


def _written(table: Any) -> dict[str, str]:
    return {name: item.as_string().strip() for name, item in table.items()}


def _inline(values: dict[str, str]) -> str:
    return f"{{ {', '.join(f'{literal(name)} = {value}' for name, value in values.items())} }}"


def _set_inline(document: Any, path: Path, values: dict[str, str]) -> None:
    import tomlkit

    parent = _at(document, path[:-1])
    parent[path[-1]] = tomlkit.value(_inline(values) if values else "{}")


def _lines(text: str) -> list[str]:
    return re.findall(r"[^\n]*\n|[^\n]+", text)


def _blocks(lines: Sequence[str]) -> list[_Block]:
    """The tables of a text by their headers, the keys above the first one under the empty path.

    A line is no header where what stands above it, from the last header on, is not whole: it is inside a
    list or a text of several lines.
    """
    heads: list[tuple[tuple[str, ...], int]] = [((), 0)]
    for number, line in enumerate(lines):
        if line.lstrip().startswith("[") and _loads("".join(lines[heads[-1][1] : number])) is not None:
            path = _header(line)
            if path:
                heads.append((path, number))
    starts = [0] + [_above(lines, number) for _, number in heads[1:]]
    ends = [*starts[1:], len(lines)]
    return [
        _Block(path, start, header, end)
        for (path, header), start, end in zip(heads, starts, ends, strict=True)
    ]


def _loads(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _header(line: str) -> tuple[str, ...]:
    names = []
    table: Any = _loads(line)
    while isinstance(table, dict) and table:
        ((name, table),) = table.items()
        names.append(name)
    return tuple(names)


def _above(lines: Sequence[str], header: int) -> int:
    """The first of the comments that stand right above a header."""
    while header and lines[header - 1].lstrip().startswith("#"):
        header -= 1
    return header


def _last_content(lines: Sequence[str], block: _Block) -> int:
    """The line after the last one of a table that is neither blank nor a comment."""
    kept = [n for n in range(block.header, block.end) if (lines[n].strip() or "#")[0] != "#"]
    return kept[-1] + 1 if kept else block.header


def _with_line(text: str, path: Path, value: str) -> str:
    lines, line = _lines(text), f"{literal(path[-1])} = {value}"
    block = next((item for item in _blocks(lines) if item.path == tuple(path[:-1])), None)
    if block is None:
        return _with_block(text, path[:-1], [line])
    return _inserted(lines, _last_content(lines, block), [line])


def _with_block(text: str, path: Path, body: Sequence[str]) -> str:
    """Before the tables within it, else below its nearest kin."""
    lines = _lines(text)
    blocks = _blocks(lines)
    new = [f"[{'.'.join(map(literal, path))}]", *body]
    inner = next((item for item in blocks if item.path[: len(path)] == tuple(path)), None)
    if inner:
        return _inserted(lines, inner.start, [*new, ""])
    for depth in range(len(path) - 1, -1, -1):
        kin = [item for item in blocks if item.path[:depth] == tuple(path[:depth])]
        if kin:
            return _inserted(lines, _last_content(lines, kin[-1]), ["", *new])
    raise AssertionError("every table has the empty path above it")


def _inserted(lines: list[str], number: int, new: Sequence[str]) -> str:
    end = "\r\n" if any(line.endswith("\r\n") for line in lines[:1]) else "\n"
    before = list(lines[:number])
    if before and not before[-1].endswith("\n"):
        before[-1] += end
    return "".join([*before, *(f"{line}{end}" for line in new), *lines[number:]])


def _proved(text: str, changed: str, path: Path, value: Any, file: str) -> str:
    """The changed text, where it holds what the text held and the one change."""
    wanted = copy.deepcopy(tomllib.loads(text))
    tables = list(_walk(wanted, path[:-1]))
    if value is _GONE:
        tables[-1].pop(path[-1], None)
    else:
        tables[-1][path[-1]] = value
    if _pruned(_loads(changed)) != _pruned(wanted):
        why = "cannot be changed here as this file is written: change it in a text editor"
        raise PlanError([PlanProblem(file, None, ".".join(path), why)])
    return changed


def _walk(table: dict[str, Any], path: Path) -> Iterator[dict[str, Any]]:
    yield table
    for name in path:
        table = table.setdefault(name, {})
        yield table


def _pruned(value: Any) -> Any:
    """Without empty tables: one that has only tables in it is gone with the last of them."""
    if not isinstance(value, dict):
        return value
    inner = {name: _pruned(item) for name, item in value.items()}
    return {name: item for name, item in inner.items() if item != {}}
