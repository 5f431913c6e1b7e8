"""Edits a plan as text: every key of a part or of the plan itself, and the text with some of it changed.

What may be edited is what reading the plan asks for, so a new key or kind needs nothing here. The rest of the
file, its comments and its layout stay as they are. Nothing here reads or writes a file.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from qa.characteristics.fields import Asked, no_name
from qa.errors import PlanError, PlanProblem
from qa.plans.plan import read_plan, survey, unknown
from qa.plans.toml_edit import drop, literal, parsed, put, put_table, quoted

PLAN = ""
"""The section of what is no part: model, unit, since and the reference climate."""
NO_KEY = Asked("none")
"""Of a key that the file holds and reading does not know."""
_NUMBER = re.compile(r"[+-]?(\d+)(\.\d+)?")
_PAIR = re.compile(r"(.+?)\s+to\s+(.+)")


@dataclass(frozen=True, slots=True)
class PlanField:
    """One value of a plan as it is written: its key's path, its place where it is one of a station, its text.

    `id` names it in a form; `key` is the dotted key by which a PlanProblem names it. A pair is written
    "-0.10 to 0.20", a value that is not there "".
    """

    path: tuple[str, ...]
    index: int | None
    text: str
    asked: Asked

    @property
    def key(self) -> str:
        return ".".join(self.path)

    @property
    def id(self) -> str:
        return self.key if self.index is None else f"{self.key}#{self.index}"


@dataclass(frozen=True, slots=True)
class PlanTable:
    """One table of a plan: its own values, and the tables in it. `named` ones hold what people name.

    `names` are those names, in the order of the file, also of values that are no tables.
    """

    path: tuple[str, ...]
    fields: tuple[PlanField, ...]
    tables: tuple[PlanTable, ...] = ()
    named: bool = False
    names: tuple[str, ...] = ()

    def __iter__(self) -> Iterator[PlanField]:
        """Every field of the table and of those within."""
        yield from self.fields
        for table in self.tables:
            yield from table

    def named_tables(self) -> Iterator[tuple[str, ...]]:
        """The paths of the tables in which people name things."""
        if self.named:
            yield self.path
        for table in self.tables:
            yield from table.named_tables()


def table_of(text: str, section: str, file: str) -> PlanTable:
    """What may be edited of one part, or of the plan itself (PLAN), whether it is there yet or not.

    In the order of the file, then what could be added. PlanError where `text` is no TOML or has no such part.
    """
    tables = tables_of(text, file)
    if section not in tables:
        names = [name for name in tables if name != PLAN]
        raise PlanError([PlanProblem(file, None, "", unknown("part", section, names))])
    return tables[section]


@lru_cache(maxsize=16)  # a form asks for the same text several times between two keystrokes
def tables_of(text: str, file: str) -> Mapping[str, PlanTable]:
    """Every section of a plan as `table_of`: PLAN, then its parts by name."""
    asked, document = survey(text, file).asked, parsed(text, file)
    parts = {name: _table(("parts", name), part, asked) for name, part in document.get("parts", {}).items()}
    return {PLAN: _table((), document, asked), **parts}


def _table(
    path: tuple[str, ...], value: Mapping[str, Any], asked: Mapping[str, Asked], named: bool = False
) -> PlanTable:
    fields: list[PlanField] = []
    tables: list[PlanTable] = []
    for name, known in _keys(path, value, asked).items():
        here, item = (*path, name), value.get(name)
        if here == ("parts",):
            tables.append(PlanTable(here, (), (), True, tuple(item or ())))
        elif known.sort in ("table", "names") or isinstance(item, Mapping):
            inner = item if isinstance(item, Mapping) else {}
            tables.append(_table(here, inner, asked, known.sort == "names" or known is NO_KEY))
        elif named and isinstance(item, list):
            fields += [PlanField(here, index, _shown(item, index), known) for index in (0, 1)]
        else:
            fields.append(PlanField(here, None, _shown(item, None), known))
    return PlanTable(path, tuple(fields), tuple(tables), named, tuple(value) if named else ())


def _keys(path: tuple[str, ...], value: Mapping[str, Any], asked: Mapping[str, Asked]) -> dict[str, Asked]:
    """The keys of a table: those of the file as they stand there, then those that reading asks for."""
    prefix = "".join(f"{name}." for name in path)
    found = {name: asked.get(f"{prefix}{name}", NO_KEY) for name in value}
    for key, known in asked.items():
        name = key.removeprefix(prefix)
        if key.startswith(prefix) and "." not in name:
            found.setdefault(name, known)
    return found


def _shown(item: Any, index: int | None) -> str:
    """A value as the file writes it, without the quotes of a text: 22.00 stays 22.00."""
    if item is None:
        return ""
    if index is not None:
        return _shown(item[index], None) if index < len(item) else ""
    if isinstance(item, list) and len(item) == 2:
        return " to ".join(_shown(each, None) for each in item)
    return str(item) if isinstance(item, str) else str(item.as_string()).strip()


def edited(text: str, section: str, file: str, changes: Mapping[str, str]) -> str:
    """The text of a plan with some fields of one section changed, by the `id` of `table_of`.

    As `typed_in`, and PlanError lists every problem of the changed plan with its key, as reading it would.
    """
    changed = typed_in(text, section, file, changes)
    read_plan(changed, file)
    return changed


def typed_in(text: str, section: str, file: str, changes: Mapping[str, str]) -> str:
    """As `edited`, whether or not the plan holds: what is typed is kept as it is.

    A number is written as a number, any other amount as text ("1 1/4 in"); what is left blank is taken out.
    PlanError where a field is not one of that section's.
    """
    fields = {item.id: item for item in table_of(text, section, file)}
    strange = [PlanProblem(file, None, name, "is not to be edited here") for name in changes.keys() - fields]
    if strange:
        raise PlanError(strange)
    values: dict[tuple[str, ...], str | None] = {}
    for item in fields.values():
        typed = changes.get(item.id, item.text).strip()
        if typed != item.text:
            placed = item.index is not None
            values[item.path] = _place(item, fields, changes) if placed else _value(item, typed)
    for path, value in values.items():
        text = drop(text, path, file) if value is None else put(text, path, value, file)
    return text


def _place(item: PlanField, fields: Mapping[str, PlanField], changes: Mapping[str, str]) -> str:
    both = (f"{item.key}#{index}" for index in (0, 1))
    return f"[{', '.join(_amount(changes.get(name, fields[name].text)) for name in both)}]"


def _value(item: PlanField, typed: str) -> str | None:
    """What was typed as a value of TOML; None where it is blank."""
    sort = item.asked.sort
    if not typed:
        return None
    if sort in ("text", "choice"):
        return quoted(typed)
    if sort in ("number", "pair"):
        typed = re.sub(r"(?<=\d),(?=\d)", ".", typed)
    if sort == "date" and re.fullmatch(r"\d{4}-\d\d-\d\d", typed):
        return typed if _is_day(typed) else quoted(typed)
    pair = _PAIR.fullmatch(typed) if sort in ("pair", "tolerance") else None
    if pair:
        return f"[{_amount(pair[1])}, {_amount(pair[2])}]"
    return _amount(typed)


def _is_day(typed: str) -> bool:
    try:
        return bool(dt.date.fromisoformat(typed))
    except ValueError:
        return False


def _amount(typed: str) -> str:
    plain = typed.strip().replace("\N{MINUS SIGN}", "-")
    found = _NUMBER.fullmatch(plain)
    return plain if found and (found[1] == "0" or not found[1].startswith("0")) else quoted(plain)


def added(text: str, path: tuple[str, ...], name: str, file: str, kind: str = "") -> str:
    """The text with something new of that name in a table of names: a part, a station, a mate, ...

    Its own values are still to be typed. PlanError with the table's key where the name cannot be used.
    """
    name = name.strip()
    why = _no_name(name, _inside(text, path, file) or {})
    if why:
        raise PlanError([PlanProblem(file, None, ".".join(path), why)])
    inside = path[-1]
    if inside == "stations":
        return _put_in(text, path, name, '["", ""]', file)
    if inside == "grain":
        return _put_in(text, path, name, '""', file)
    body = {"parts": [("title", quoted(name))], "characteristics": [("kind", quoted(kind))]}
    return put_table(text, (*path, name), body.get(inside, []), file)


def _put_in(text: str, path: tuple[str, ...], name: str, value: str, file: str) -> str:
    """One more value of a table of names, which is written on one line where it is new."""
    if _inside(text, path, file):
        return put(text, (*path, name), value, file)
    return put(text, path, f"{{ {literal(name)} = {value} }}", file)


def _inside(text: str, path: tuple[str, ...], file: str) -> Mapping[str, Any] | None:
    """A table of a text; None where it is not there."""
    table: Any = parsed(text, file)
    for name in path:
        if name not in table:
            return None
        table = table[name]
    return table  # type: ignore[no-any-return]  # a table of tomlkit


def _no_name(name: str, others: Mapping[str, Any]) -> str:
    if not name:
        return "type a name first"
    return no_name(name) or (f"there is one called {name!r} already" if name in others else "")


def removed(text: str, path: tuple[str, ...], file: str) -> str:
    """The text without something named, and without the table that held it where that is empty then."""
    text = drop(text, path, file)
    left = _inside(text, path[:-1], file)
    return text if left is None or len(left) else drop(text, path[:-1], file)


def revised(text: str, file: str, since: dt.date) -> str:
    """The text of a plan as a revision that holds for builds begun on `since` or later.

    PlanError as `read_plan`.
    """
    changed = put(text, ("since",), since.isoformat(), file)
    read_plan(changed, file)
    return changed
