"""Reads the keys of one table of a plan, gathering every problem instead of stopping at the first."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import TypeGuard

from drivers.lengths import parse_length_nm, parse_quantity
from qa.characteristics.base import MILLION, Station

_ABSENT = object()
_BEYOND = 1e300
_LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class EnteredLength:
    """A length as a plan writes it: where, the text, the unit it was written in, and its nanometres."""

    key: str
    text: str
    unit: str
    nanometres: int
    tolerance: int | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """What reading asks of a key: the sort of its value, among what, and what holds where it is absent.

    Sorts: text, choice, number, length, pair, tolerance (a length or a pair), date, table, and names: a table
    whose keys are names that a person chooses.
    """

    sort: str
    among: tuple[str, ...] = ()
    usual: str = ""
    needed: bool = False


@dataclass(slots=True)
class Notes:
    """What reading a plan brings up beside the plan itself; `asked` holds every key asked for, in order."""

    problems: list[tuple[str, str]] = field(default_factory=list)
    lengths: list[EnteredLength] = field(default_factory=list)
    asked: dict[str, Asked] = field(default_factory=dict)


class Fields:
    """The keys of one table, read by name; what is missing or wrong becomes a problem with its key.

    Lengths are numbers in the plan's unit or text with a unit of its own, returned in whole nanometres.
    """

    def __init__(self, table: Mapping[str, object], key: str, unit: str, notes: Notes) -> None:
        self.table = table
        self.key = key
        self.unit = unit
        self.notes = notes
        self._read: set[str] = set()

    @property
    def name(self) -> str:
        return self.key.rpartition(".")[2]

    def problem(self, name: str, why: str) -> None:
        self.notes.problems.append((f"{self.key}.{name}" if name else self.key, why))

    def ask(
        self, name: str, sort: str, needed: bool = False, among: Collection[str] = (), usual: str = ""
    ) -> None:
        """Note what is asked of a key; what was noted first holds."""
        asked = Asked(sort, tuple(among), usual, needed)
        self.notes.asked.setdefault(f"{self.key}.{name}".lstrip("."), asked)

    def get(self, name: str, needed: bool = False, sort: str = "length") -> object | None:
        self._read.add(name)
        self.ask(name, sort, needed)
        value = self.table.get(name, _ABSENT)
        if value is _ABSENT:
            if needed:
                self.problem(name, "is missing")
            return None
        if sort == "names" and isinstance(value, Mapping):
            for why in filter(None, map(no_name, value)):
                self.problem(name, why)
        return value

    def text(self, name: str, needed: bool = False, default: str = "") -> str:
        self.ask(name, "text", needed, usual=default)
        value = self.get(name, needed)
        if value is None:
            return default
        if not isinstance(value, str) or not value.strip():
            self.problem(name, f"must be text, not {value!r}")
            return default
        return value

    def choice(self, name: str, among: Collection[str], default: str) -> str:
        self.ask(name, "choice", among=among, usual=default)
        value = self.text(name, default=default)
        if value not in among:
            self.problem(name, f"{value!r} is none of: {', '.join(among)}")
            return default
        return value

    def number(self, name: str, default: float | None = None, needed: bool = False) -> float | None:
        self.ask(name, "number", needed, usual="" if default is None else f"{default:g}")
        value = self.get(name, needed)
        if value is None:
            return default
        if not _is_number(value):
            self.problem(name, f"must be a finite number, not {value!r}")
            return default
        return float(value)

    def within(self, name: str, low: float, high: float, default: float) -> float:
        value = self.number(name, default)
        if value is None or not low < value < high:
            self.problem(name, f"must lie between {low:g} and {high:g}, not {value}")
            return default
        return value

    def length(self, name: str, needed: bool = False, positive: bool = False) -> int | None:
        value = self.get(name, needed)
        if value is None:
            return None
        found = self.amount(name, value)
        if found is not None and positive and found <= 0:
            self.problem(name, f"must be above zero, not {value}")
            return None
        return found

    def amount(self, name: str, value: object) -> int | None:
        """A length in nanometres, from a number in the plan's unit or text with its own."""
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            self.problem(name, f"must be a length such as 18.0 or '1 1/4 in', not {value!r}")
            return None
        try:
            nanometres = parse_length_nm(str(value), self.unit)
        except ValueError as error:
            self.problem(name, str(error))
            return None
        unit = parse_quantity(str(value), self.unit)[1]
        self.notes.lengths.append(EnteredLength(f"{self.key}.{name}", str(value), unit, nanometres))
        return nanometres

    def tolerance(self, name: str = "tolerance") -> tuple[int, int] | None:
        """Deviations (lower, upper) in nanometres from one plus-minus length or from a pair."""
        value = self.get(name, sort="tolerance")
        if value is None:
            return None
        if isinstance(value, list):
            return self._pair(name, value)
        half = self.amount(name, value)
        if half is None:
            return None
        if half <= 0:
            self.problem(name, f"must be above zero, not {value}; no part meets a tolerance of nothing")
            return None
        return -half, half

    def _pair(self, name: str, value: list[object]) -> tuple[int, int] | None:
        if len(value) != 2:
            self.problem(name, "must be one plus-minus length, or a pair such as [-0.10, 0.20]")
            return None
        low, high = (self.amount(name, item) for item in value)
        if low is None or high is None:
            return None
        if low >= high:
            self.problem(name, f"is upside down: [{value[0]}, {value[1]}] leaves nothing between its limits")
            return None
        return low, high

    def stations(self, needed: bool = True, name: str = "stations") -> tuple[Station, ...]:
        """Named places; each [x, y] in millimetres, or in the plan's unit where that is inches."""
        value = self.get(name, needed, sort="names")
        if value is None:
            return ()
        if not isinstance(value, Mapping) or not value:
            self.problem(name, "must be a table of places such as { top-left = [0, 90] }")
            return ()
        found = [self._station(name, str(key), place) for key, place in value.items()]
        stations = tuple(station for station in found if station is not None)
        self._same_place(name, stations)
        return stations

    def _station(self, name: str, key: str, place: object) -> Station | None:
        where = f"{name}.{key}"
        if not isinstance(place, list) or len(place) != 2:
            self.problem(where, f"must be [x, y] on the face, not {place!r}")
            return None
        x, y = (self.amount(where, item) for item in place)
        if x is None or y is None:
            return None
        return Station(key, x / MILLION, y / MILLION)

    def _same_place(self, name: str, stations: tuple[Station, ...]) -> None:
        seen: dict[tuple[float, float], str] = {}
        for station in stations:
            first = seen.setdefault((station.x, station.y), station.name)
            if first != station.name:
                self.problem(f"{name}.{station.name}", f"is at the same place as station {first!r}")

    def unknown_keys(self) -> None:
        """Makes a problem of every key that nothing has asked for."""
        for key in self.table:
            if key not in self._read:
                near = difflib.get_close_matches(key, sorted(self._read), 1)
                hint = f"; did you mean {near[0]!r}?" if near else f"; known: {', '.join(sorted(self._read))}"
                self.problem(key, f"is not a key of this table{hint}")


class PerCent(Fields):
    """The same table where its amounts are in per cent instead of lengths, in whole millionths."""

    def __init__(self, fields: Fields) -> None:
        super().__init__(fields.table, fields.key, fields.unit, fields.notes)
        self._read = fields._read

    def amount(self, name: str, value: object) -> int | None:
        """Per cent, from a number."""
        if not _is_number(value):
            self.problem(name, f"must be a number in per cent such as 8.0, not {value!r}")
            return None
        return round(value * MILLION)


def no_name(name: str) -> str:
    """Why a person cannot name something so, or "": a full stop stands between the names of a key."""
    if name.strip() and "." not in name and name.isprintable() and len(name) <= _LONGEST_NAME:
        return ""
    rule = f"up to {_LONGEST_NAME} letters, digits, spaces and hyphens, without a full stop"
    return f"{name!r} cannot be a name: a name is {rule}"


def _is_number(value: object) -> TypeGuard[int | float]:
    """Whether a value of TOML is a number that can be reckoned with; an integer may have any digits there."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _BEYOND
