"""Finds each name of a drawing a place beside its mark, clear of the others."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

Anchor = Literal["start", "middle", "end"]
LETTERING = 13.0
"""Height of the lettering, in units of the drawing; every other distance here is in those units too."""
MARK = 6.0
RING = 12.0


@dataclass(frozen=True, slots=True)
class Label:
    """A name beside its mark: the baseline's start, middle or end, by `anchor`."""

    text: str
    x: float
    y: float
    anchor: Anchor
    large: bool = False


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle that is taken: left, top, right, bottom."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def inside(self, other: Box) -> bool:
        return (
            other.left <= self.left
            and self.right <= other.right
            and other.top <= self.top
            and self.bottom <= other.bottom
        )

    def distance(self, x: float, y: float) -> float:
        """From a point to the nearest of the rectangle."""
        return math.hypot(max(self.left - x, 0, x - self.right), max(self.top - y, 0, y - self.bottom))


def place_labels(
    texts: Sequence[str],
    points: Sequence[tuple[float, float]],
    marked: frozenset[int],
    outline: Box,
    room: Box,
    anyway: bool = False,
) -> tuple[Label, ...] | None:
    """A place within `room` for the text of every point, the marked ones first and in large lettering.

    Off the lines of the outline where that can be; None where a text finds no place nearer to its own mark
    than to another's, unless `anyway`.
    """
    taken = [around(point, RING if i in marked else MARK) for i, point in enumerate(points)]
    edges = _edges(outline)
    placed: dict[int, Label] = {}
    for index in sorted(range(len(points)), key=lambda place: place not in marked):
        tried = list(_candidates(texts[index], points[index], outline, index in marked))
        free = [c for c in tried if _is_free(label_box(c), room, taken) and _is_own(c, index, points)]
        if not free and not anyway:
            return None
        clear = [c for c in free if not any(label_box(c).meets(edge) for edge in edges)]
        placed[index] = (clear or free or [min(tried, key=lambda c: _crowded(label_box(c), taken))])[0]
        taken.append(label_box(placed[index]))
    return tuple(placed[index] for index in range(len(points)))


def _crowded(box: Box, taken: Sequence[Box]) -> int:
    return sum(box.meets(other) for other in taken)


def _is_free(box: Box, room: Box, taken: Sequence[Box]) -> bool:
    return box.inside(room) and not any(box.meets(other) for other in taken)


def _is_own(label: Label, index: int, points: Sequence[tuple[float, float]]) -> bool:
    """Whether a label lies nearer to its own mark than to any other."""
    box = label_box(label)
    own = box.distance(*points[index])
    return all(place == index or box.distance(*point) > own for place, point in enumerate(points))


def _edges(box: Box) -> list[Box]:
    """The lines of an outline, so that lettering keeps off them."""
    return [
        Box(box.left, box.top - 1, box.right, box.top + 1),
        Box(box.left, box.bottom - 1, box.right, box.bottom + 1),
        Box(box.left - 1, box.top, box.left + 1, box.bottom),
        Box(box.right - 1, box.top, box.right + 1, box.bottom),
    ]


def around(point: tuple[float, float], reach: float) -> Box:
    x, y = point
    return Box(x - reach, y - reach, x + reach, y + reach)


def _candidates(text: str, point: tuple[float, float], outline: Box, large: bool) -> Iterator[Label]:
    """Labels beside a mark, towards the middle of the face first, then clear of the outline at its height."""
    x, y = point
    inwards = 1 if x <= (outline.left + outline.right) / 2 + 1 else -1
    towards = 1 if y < (outline.top + outline.bottom) / 2 else -1
    gap = (RING if large else MARK) + 3
    sides = [(inwards, towards), (inwards, -towards), (inwards, 0), (0, towards), (0, -towards)]
    sides += [(-inwards, towards), (-inwards, -towards), (-inwards, 0)]
    for across, down in sides:
        reach = gap - 2 if across and down else gap
        yield _beside(text, x + across * reach, y + down * reach, across, down, large)
    clear = gap - MARK + 2
    yield _beside(text, outline.right + clear, y, 1, 0, large)
    yield _beside(text, outline.left - clear, y, -1, 0, large)


def _beside(text: str, x: float, y: float, across: int, down: int, large: bool) -> Label:
    size = label_size(large)
    baseline = y + (size * 0.78 if down > 0 else -size * 0.22 if down < 0 else size * 0.3)
    anchor: Anchor = "start" if across > 0 else "end" if across < 0 else "middle"
    return Label(text, x, baseline, anchor, large)


def label_size(large: bool) -> float:
    """The height of a label's lettering."""
    return LETTERING * (1.35 if large else 1.0)


def label_box(label: Label) -> Box:
    size = label_size(label.large)
    wide = text_width(label.text, size)
    left = {"start": label.x, "middle": label.x - wide / 2, "end": label.x - wide}[label.anchor]
    return Box(left, label.y - size * 0.78, left + wide, label.y + size * 0.22)


def text_width(text: str, size: float) -> float:
    """About how wide a text is set: full-width signs one em, combining ones nothing, others 0.53 em."""
    ems = 0.0
    for sign in text:
        if unicodedata.combining(sign):
            continue
        ems += 1.0 if unicodedata.east_asian_width(sign) in "WF" else 0.53
    return ems * size
