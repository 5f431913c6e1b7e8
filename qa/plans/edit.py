"""Edits a plan as text: what a part's table says, field by field, and the text with some of it changed.

The rest of the file, its comments and its layout stay as they are. Nothing here reads or writes a file.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from qa.errors import PlanError, PlanProblem
from qa.plans.plan import read_plan, unknown
from qa.plans.toml_text import line_of

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

WORDS = ("title", "species")
"""The texts of a part that a person may edit, there or not yet."""
NOT_EDITED = ("kind", "of", "method")
"""What a characteristic is: another of these makes it another characteristic."""
_NUMBER = re.compile(r"[+-]?(\d+)(\.\d+)?")


@dataclass(frozen=True, slots=True)
class PlanField:
    """One value of a plan as it is written: its key's path, its place where it stands in a list, its text.

    `id` names it in a form; `key` is the dotted key by which a PlanProblem names it.
    """

    path: tuple[str, ...]
    index: int | None
    text: str

    @property
    def key(self) -> str:
        return ".".join(self.path)

    @property
    def id(self) -> str:
        return self.key if self.index is None else f"{self.key}#{self.index}"


def fields_of(text: str, part: str, file: str) -> list[PlanField]:
    """What may be edited of one part: its title and species, then every amount, in the order of the file.

    `text` is that of a valid plan called `file`. PlanError where it is none, or has no such part.
    """
    document = _parsed(text, file)
    table = document.unwrap().get("parts", {}).get(part)
    if not isinstance(table, Mapping):
        raise PlanError([PlanProblem(file, None, "", unknown("part", part, document.get("parts", {})))])
    path = ("parts", part)
    words = [PlanField((*path, name), None, str(table.get(name, ""))) for name in WORDS]
    return [*words, *_amounts((*path, "characteristics"), table.get("characteristics", {}), document)]


def _parsed(text: str, file: str) -> TOMLDocument:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise PlanError([PlanProblem(file, None, "", f"is not valid TOML: {error}")]) from error


def _amounts(path: tuple[str, ...], table: Mapping[str, Any], document: TOMLDocument) -> Iterator[PlanField]:
    for name, value in table.items():
        here = (*path, name)
        if isinstance(value, Mapping):
            yield from _amounts(here, value, document)
        elif isinstance(value, list):
            for index in range(len(value)):
                yield PlanField(here, index, _written(document, here, index))
        elif name not in NOT_EDITED:
            yield PlanField(here, None, _written(document, here, None))


def _written(document: TOMLDocument, path: Sequence[str], index: int | None) -> str:
    """A value as the file writes it, without the quotes of a text: 22.00 stays 22.00."""
    item = _at(document, path)
    if index is not None:
        item = item[index]
    return str(item) if isinstance(item, str) else item.as_string().strip()


def _at(document: TOMLDocument, path: Sequence[str]) -> Any:
    item: Any = document
    for name in path:
        item = item[name]
    return item


def edited(text: str, part: str, file: str, changes: Mapping[str, str]) -> str:
    """The text of a plan with some fields of one part changed, by the `id` of `fields_of`.

    A number is written as a number, any other amount as text ("1 1/4 in"); a title or species left blank is
    taken out. PlanError lists every problem of the changed plan with its key, as reading the file would; and
    where a field is not one of that part's.
    """
    import tomlkit

    document = _parsed(text, file)
    fields = {item.id: item for item in fields_of(text, part, file)}
    strange = [PlanProblem(file, None, name, "is not to be edited here") for name in changes.keys() - fields]
    if strange:
        raise PlanError(strange)
    for name, typed in changes.items():
        if typed.strip() != fields[name].text:
            _change(document, fields[name], typed.strip())
    changed = tomlkit.dumps(document)
    read_plan(changed, file)
    return changed


def _change(document: TOMLDocument, field: PlanField, typed: str) -> None:
    *way, name = field.path
    table = _at(document, way)
    if field.index is not None:
        table[name][field.index] = _amount(typed)
    elif name not in WORDS:
        table[name] = _amount(typed)
    elif typed:
        table[name] = typed
    elif name in table:
        del table[name]


def _amount(typed: str) -> Any:
    import tomlkit

    plain = typed.replace("\N{MINUS SIGN}", "-")
    found = _NUMBER.fullmatch(plain)
    if found and (found[1] == "0" or not found[1].startswith("0")):
        return tomlkit.value(plain)
    return tomlkit.string(plain)


def revised(text: str, file: str, since: dt.date) -> str:
    """The text of a plan as a revision that holds for builds begun on `since` or later.

    PlanError as `read_plan`.
    """
    import tomlkit

    document = _parsed(text, file)
    if "since" in document:
        document["since"] = since
        changed = tomlkit.dumps(document)
    else:
        lines = text.splitlines(keepends=True)
        after = line_of(text, "unit") or line_of(text, "model") or 0
        end = "\r\n" if lines and lines[0].endswith("\r\n") else "\n"
        changed = "".join([*lines[:after], f"since = {since.isoformat()}{end}", *lines[after:]])
    read_plan(changed, file)
    return changed
