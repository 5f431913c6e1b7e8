"""What a characteristic is, planned and evaluated; every kind builds on these values."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from qa.arithmetic import finite
from qa.errors import CannotSay

if TYPE_CHECKING:
    from qa.characteristics.fields import Fields

MILLION = 1_000_000
"""Amounts are kept exactly as whole millionths of their unit; of a millimetre that is a nanometre."""
LARGEST = 10_000 * MILLION
"""No reading is beyond this: 10 m, as no part is longer."""


JUDGED_BY = frozenset({"over", "radius", "fit_width", "width_of_face"})
"""Options that may change without any reading telling something else."""


def in_units(millionths: int | None) -> float | None:
    """An exact amount as a float in its unit; None stays None."""
    return None if millionths is None else millionths / MILLION


@dataclass(frozen=True, slots=True)
class Station:
    """A named place on the face of a part, `x` and `y` in millimetres."""

    name: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Limits:
    """What one judged value is held to, in whole millionths of its unit; None where the plan sets none."""

    target: int | None
    lower: int | None
    upper: int | None


@dataclass(frozen=True, slots=True)
class Characteristic:
    """One planned characteristic of a part.

    `target`, `lower` and `upper` are whole millionths of `unit` (None where the plan sets none) and apply to
    the judged value; limits are inclusive. `stations` are where it is read: empty for a characteristic
    derived from the readings of another (`of`), one nameless station where it is read only once. `overall`
    names what is judged of all stations together beside each of them ("range"), with limits of its own.
    """

    name: str
    kind: str
    unit: str
    target: int | None
    lower: int | None
    upper: int | None
    stations: tuple[Station, ...] = ()
    of: str | None = None
    confidence: float = 0.95
    options: Mapping[str, float | str] = field(default_factory=dict)
    overall: Mapping[str, Limits] = field(default_factory=dict)

    def limits(self, station: str | None) -> Limits:
        """What the value at a station, or the value `overall` names, is held to."""
        return self.overall.get(station or "") or Limits(self.target, self.lower, self.upper)

    @property
    def derived(self) -> bool:
        return self.of is not None

    @property
    def read_by(self) -> dict[str, float | str]:
        """The options that what is read depends on, and not only what is made of it."""
        return {name: value for name, value in self.options.items() if name not in JUDGED_BY}

    def number(self, option: str) -> float:
        """The option as a number, in millimetres or degrees."""
        return float(self.options[option])


@dataclass(frozen=True, slots=True)
class Value:
    """A judged value in the characteristic's unit, and how it answers to each reading behind it.

    `sensitivities` maps a station to d value / d reading there (JCGM 100, 5.1.3), so that one law of
    propagation serves every kind. `note` is what a reader of the value should know, such as where it is.
    """

    station: str | None
    value: float
    sensitivities: Mapping[str, float]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Unsaid:
    """A value that the readings cannot tell, and why."""

    station: str | None
    why: str


Evaluate = Callable[[Characteristic, tuple[Station, ...], Mapping[str, float]], Sequence[Value | Unsaid]]
Read = Callable[["Fields"], Characteristic | None]
Shown = Callable[[float], str]
"""Writes millimetres for people, in the shop's unit."""
Reads = Callable[[Characteristic, Shown], str]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of characteristic: how it is read from a plan and evaluated from readings.

    `evaluate(characteristic, stations, readings)` gets the stations the readings were taken at (its own, or
    those of the size it is derived from) and the reading at each, in the characteristic's unit. It is called
    only when every station it needs has one, except for kinds judged station by station (`each_station`),
    which leave out what the readings so far do not tell. It raises CannotSay, or returns Unsaid for one
    station, where the readings contradict themselves.
    `sized` kinds read the size itself, so that a reading far from the target betrays a wrong unit.
    `needs` says in words what a derived kind misses in the stations of its size, or "".
    `reads(characteristic, shown)` says in words with its numbers what is read at a station, "" where that is
    the judged value itself; `planing_changes` tells whether a pass of planing makes older readings void.
    """

    name: str
    says: str
    read: Read
    evaluate: Evaluate
    sized: bool = False
    each_station: bool = False
    needs: Callable[[tuple[Station, ...]], str] = lambda stations: ""
    reads: Reads = lambda characteristic, shown: ""
    planing_changes: bool = True


ONCE = (Station("", 0.0, 0.0),)
"""The one nameless station of a characteristic that is read only once."""


def each(
    stations: tuple[Station, ...],
    readings: Mapping[str, float],
    evaluate: Callable[[float], tuple[float, float]],
) -> list[Value | Unsaid]:
    """The value at every station that has a reading, from that reading alone.

    `evaluate` turns a reading into (value, d value / d reading); where it raises CannotSay, that station's
    value is unsaid and the others stand.
    """
    found: list[Value | Unsaid] = []
    for name in (station.name for station in stations if station.name in readings):
        try:
            value, slope = evaluate(finite.number(readings[name], "reading"))
        except CannotSay as error:
            found.append(Unsaid(name, str(error)))
        else:
            found.append(Value(name, value, {name: slope}))
    return found
