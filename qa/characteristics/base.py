"""What a characteristic is, planned and evaluated; every kind builds on these values."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from qa.characteristics.fields import Fields

MILLION = 1_000_000
"""Amounts are kept exactly as whole millionths of their unit; of a millimetre that is a nanometre."""


@dataclass(frozen=True, slots=True)
class Station:
    """A named place on the face of a part, `x` and `y` in millimetres."""

    name: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Characteristic:
    """One planned characteristic of a part.

    `target`, `lower` and `upper` are whole millionths of `unit` (None where the plan sets none) and apply to
    the judged value; limits are inclusive. `stations` are where it is read: empty for a characteristic
    derived from the readings of another (`of`), one nameless station where it is read only once.
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

    @property
    def derived(self) -> bool:
        return self.of is not None

    def number(self, option: str) -> float:
        """The option as a number, in millimetres or degrees."""
        return float(self.options[option])


@dataclass(frozen=True, slots=True)
class Value:
    """A judged value in the characteristic's unit, and how it answers to each reading behind it.

    `sensitivities` maps a station to d value / d reading there (JCGM 100, 5.1.3), so that one law of
    propagation serves every kind.
    """

    station: str | None
    value: float
    sensitivities: Mapping[str, float]


Evaluate = Callable[[Characteristic, tuple[Station, ...], Mapping[str, float]], Sequence[Value]]
Read = Callable[["Fields"], Characteristic | None]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of characteristic: how it is read from a plan and evaluated from readings.

    `evaluate(characteristic, stations, readings)` gets the stations the readings were taken at (its own, or
    those of the size it is derived from) and the reading at each, in the characteristic's unit. It is called
    only when every station it needs has one, except for sizes, judged station by station.
    `sized` kinds read the size itself, so that a reading far from the target betrays a wrong unit.
    `needs` says in words what a derived kind misses in the stations of its size, or "".
    """

    name: str
    says: str
    read: Read
    evaluate: Evaluate
    sized: bool = False
    each_station: bool = False
    needs: Callable[[tuple[Station, ...]], str] = lambda stations: ""
