"""Some of a long list of builds at a time, the newest first: no more are judged than are looked at."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from qa.judge import JudgedBuild

if TYPE_CHECKING:
    from qa.checking import Checked

Wanted: TypeAlias = Callable[[JudgedBuild], bool]

SHOWN = 40
"""Builds that stand on the page at once."""
LOOKED_AT = 120
"""Builds judged at once in search of those with a verdict that is asked for."""
NEAR = 16
"""So many windows from the first are near it: for one further on all names are asked for."""


@dataclass(frozen=True, slots=True)
class Window:
    """Builds of a list of names: those shown, and the places looked at, `first` until before `end`.

    `newer` and `older` are the names that the windows beside begin with: None where there is none.
    """

    shown: tuple[JudgedBuild, ...]
    problems: tuple[tuple[str, str], ...]
    first: int
    end: int
    newer: str | None
    older: str | None


def beginning(
    ask: Callable[[int | None], Sequence[str]], start: str, wanted: Wanted | None = None
) -> Sequence[str]:
    """The first names of a long list, at least as many as the window from `start` needs.

    `ask` gives so many, or all for None.
    """
    needed = (LOOKED_AT if wanted else SHOWN) + 1
    most = NEAR * needed if start else needed
    names = ask(most)
    enough = not start or len(names) < most or start in names[: most - needed + 1]
    return names if enough else ask(None)


def window(
    names: Sequence[str],
    start: str,
    judge: Callable[[Sequence[str]], Checked],
    wanted: Wanted | None = None,
) -> Window:
    """The builds from `start` on, or the first where it is not among them; only those `wanted`, if given."""
    first = names.index(start) if start in names else 0
    most = LOOKED_AT if wanted else SHOWN
    shown, problems, looked_at = _walk(names[first : first + most], judge, wanted)
    end = first + looked_at
    back = _walk(names[max(first - most, 0) : first][::-1], judge, wanted)[2] if wanted else most
    return Window(
        tuple(shown),
        tuple(problems),
        first,
        end,
        names[max(first - back, 0)] if first else None,
        names[end] if end < len(names) else None,
    )


def _walk(
    names: Sequence[str], judge: Callable[[Sequence[str]], Checked], wanted: Wanted | None
) -> tuple[list[JudgedBuild], list[tuple[str, str]], int]:
    """The first so many that are wanted, what could not be judged on the way, and how many were looked at."""
    shown: list[JudgedBuild] = []
    problems: list[tuple[str, str]] = []
    for start in range(0, len(names), SHOWN):
        some = names[start : start + SHOWN]
        found = judge(some)
        judged, failed = {item.build: item for item in found.builds}, dict(found.problems)
        for place, name in enumerate(some, start + 1):
            if name in failed:
                problems.append((name, failed[name]))
            elif wanted is None or wanted(judged[name]):
                shown.append(judged[name])
            if len(shown) == SHOWN:
                return shown, problems, place
    return shown, problems, len(names)
