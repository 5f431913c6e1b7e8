"""Where the stations of a part and their names go on a drawing of its face: plain arithmetic, no I/O."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qa.characteristics.base import Characteristic
from qa.paper.drawing_labels import LETTERING, RING, Box, Label, around, label_box, place_labels
from qa.plans.planned import Part

SLIM = 0.12
"""How wide at least a face is drawn whose stations lie on one line, as a share of its length."""
LONGEST_LABEL = 28


@dataclass(frozen=True, slots=True)
class Spot:
    """One place on the face, in millimetres, and every reading taken there.

    `readings` are (characteristic, station) in the order of the plan; `label` is what the place is called;
    `number` counts the places from 1 in the order they are read.
    """

    number: int
    label: str
    readings: tuple[tuple[str, str], ...]
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Layout:
    """A face laid out: its outline, a point for each spot, a label for each, and what they span in mm.

    `numbered` where the names would not fit and the places carry their numbers. `dimension_x` and
    `dimension_y` are where dimension lines run clear of every label; `used` is what is drawn on.
    """

    outline: Box
    points: tuple[tuple[float, float], ...]
    labels: tuple[Label, ...]
    span: tuple[float, float]
    numbered: bool

    @property
    def dimension_x(self) -> float:
        return min(self.outline.left, *(box.left for box in self._boxes())) - 1.2 * LETTERING

    @property
    def dimension_y(self) -> float:
        return max(self.outline.bottom, *(box.bottom for box in self._boxes())) + 1.6 * LETTERING

    @property
    def used(self) -> Box:
        boxes = [self.outline, *self._boxes()]
        return Box(
            self.dimension_x - 1.5 * LETTERING if self.span[1] else min(box.left for box in boxes) - RING,
            min(box.top for box in boxes) - 2,
            max(box.right for box in boxes) + 4,
            self.dimension_y + 6 if self.span[0] else max(box.bottom for box in boxes) + 4,
        )

    def _boxes(self) -> list[Box]:
        marks = [around(point, RING) for point in self.points]
        return [*marks, *(label_box(label) for label in self.labels)]


def spots(part: Part, characteristic: str | None = None) -> tuple[Spot, ...]:
    """The places on the face where a part is read, or where one characteristic is; merged where they meet.

    A reading without a named station has no place on the face and is left out. KeyError where the part has
    no such characteristic.
    """
    at: dict[tuple[float, float], list[tuple[str, str]]] = {}
    for item in _read(part, characteristic):
        for station in item.stations:
            if station.name:
                at.setdefault((station.x, station.y), []).append((item.name, station.name))
    return tuple(
        Spot(number, _label(readings), tuple(readings), *place)
        for number, (place, readings) in enumerate(at.items(), 1)
    )


def once(part: Part, characteristic: str | None = None) -> tuple[Characteristic, ...]:
    """What is read at no named station, so that it has no place on the face."""
    return tuple(item for item in _read(part, characteristic) if any(not s.name for s in item.stations))


def _read(part: Part, characteristic: str | None) -> list[Characteristic]:
    if characteristic is not None:
        return [part.source(part.characteristics[characteristic])]
    return [item for item in part.characteristics.values() if not item.derived]


def _label(readings: Sequence[tuple[str, str]]) -> str:
    return ", ".join(dict.fromkeys(station for _, station in readings))


def layout(found: Sequence[Spot], marked: frozenset[int], width: float, height: float) -> Layout:
    """Lay spots out within a width and height, y growing upwards; `marked` are where the next reading is.

    Named where every name finds a place beside its mark, else numbered.
    """
    outline, points, span = _place(found, width, height)
    room = Box(2 * LETTERING, 0.0, width, height - 2 * LETTERING)
    names = [_short(spot.label) for spot in found]
    numbers = [
        name if place in marked else str(spot.number)
        for place, (spot, name) in enumerate(zip(found, names, strict=True))
    ]
    for texts in (names, numbers):
        labels = place_labels(texts, points, marked, outline, room)
        if labels is not None:
            return Layout(outline, points, labels, span, texts is numbers)
    labels = place_labels(numbers, points, marked, outline, room, anyway=True) or ()
    return Layout(outline, points, labels, span, True)


def _place(
    found: Sequence[Spot], width: float, height: float
) -> tuple[Box, tuple[tuple[float, float], ...], tuple[float, float]]:
    """The outline, the point of each spot, and what the spots span in mm across and up."""
    xs, ys = [spot.x for spot in found] or [0.0], [spot.y for spot in found] or [0.0]
    span = (max(xs) - min(xs), max(ys) - min(ys))
    longest = max(span) or 1.0
    wide, high = (max(size, longest * SLIM) if max(span) else 1.0 for size in span)
    left, right, top, bottom = 3.5 * LETTERING, 2 * LETTERING, 2 * LETTERING, 3 * LETTERING
    scale = min((width - left - right) / wide, (height - top - bottom) / high)
    if not max(span):
        scale *= 0.4
    centre = (left + (width - left - right) / 2, top + (height - top - bottom) / 2)
    middle = ((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2)
    points = tuple(
        (centre[0] + (spot.x - middle[0]) * scale, centre[1] - (spot.y - middle[1]) * scale) for spot in found
    )
    half = (wide * scale / 2, high * scale / 2)
    outline = Box(centre[0] - half[0], centre[1] - half[1], centre[0] + half[0], centre[1] + half[1])
    return outline, points, span


def _short(label: str) -> str:
    return label if len(label) <= LONGEST_LABEL else f"{label[: LONGEST_LABEL - 1]}…"
