"""What was changed between two texts of a plan, key by key."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from qa.plans.edit import PlanTable, tables_of


@dataclass(frozen=True, slots=True)
class Change:
    """One value that is another now ("" where there is none), or something named that came or went.

    `index` is 0 for the x and 1 for the y of a station. `was` and `now` are None for something named.
    """

    path: tuple[str, ...]
    index: int | None
    was: str | None
    now: str | None
    came: bool = False


def changes(before: str, after: str, file: str) -> list[Change]:
    """The changes from one text of a plan to another, as the later one has them; what went is last."""
    old, new = _Told(before, file), _Told(after, file)
    came, went = _outermost(new.names, old.names), _outermost(old.names, new.names)
    found = [Change(path, None, None, None, came=True) for path in came]
    for place in dict.fromkeys([*new.texts, *old.texts]):
        path, index = place
        was, now = old.texts.get(place, ""), new.texts.get(place, "")
        if was != now and not any(path[: len(gone)] == gone for gone in went + came):
            found.append(Change(path, index, was, now))
    return found + [Change(path, None, None, None) for path in went]


class _Told:
    """Every value of a plan as it is written, and the paths of everything named."""

    def __init__(self, text: str, file: str) -> None:
        self.texts: dict[tuple[tuple[str, ...], int | None], str] = {}
        self.names: list[tuple[str, ...]] = []
        for table in tables_of(text, file).values():
            self.names += _named(table)
            self.texts |= {(item.path, item.index): item.text for item in table}


def _named(table: PlanTable) -> Iterator[tuple[str, ...]]:
    yield from ((*table.path, name) for name in table.names)
    for inner in table.tables:
        yield from _named(inner)


def _outermost(names: list[tuple[str, ...]], others: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """The names that the others do not hold, without those inside one that stands for them."""
    found: list[tuple[str, ...]] = []
    for path in names:
        if path not in others and not any(path[: len(outer)] == outer for outer in found):
            found.append(path)
    return found
