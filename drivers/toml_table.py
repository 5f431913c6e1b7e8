"""A TOML table read key by key, noting every problem with its place instead of stopping at the first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, TypeVar

_T = TypeVar("_T")


class Table:
    """One table of a file; `problems` is shared by all tables of that file."""

    def __init__(self, data: Mapping[str, Any], place: str, problems: list[str], path: str = "") -> None:
        self._data = data
        self._place = place
        self._path = path
        self._asked: set[str] = set()
        self.problems = problems

    def __contains__(self, key: str) -> bool:
        return key in self._data

    def problem(self, key: str, why: str) -> None:
        """Note what is wrong with `key`."""
        self.problems.append(f"{self._place}: {self._path}{key}: {why}")

    def text(self, key: str, default: str | None = None) -> str:
        """A text; without a default it must be there and not empty."""
        value = self._get(key, default)
        if isinstance(value, str) and (value or default is not None):
            return value
        return self._wrong(key, value, "text", "")

    def choice(self, key: str, allowed: Sequence[str], default: str | None = None) -> str:
        """One of the texts in `allowed`."""
        value = self._get(key, default)
        if isinstance(value, str) and value in allowed:
            return value
        return self._wrong(key, value, f"one of {', '.join(allowed)}", allowed[0])

    def integer(self, key: str, low: int, high: int, default: int | None = None) -> int:
        """A whole number from `low` to `high`."""
        value = self._get(key, default)
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        return self._wrong(key, value, f"a whole number from {low} to {high}", low)

    def position(self, key: str, end: int) -> int | None:
        """A position below `end`; None where the key is not given."""
        return self.integer(key, 0, end - 1) if key in self._data else None

    def integers(
        self, key: str, low: int, high: int, default: Sequence[int] | None = None
    ) -> tuple[int, ...]:
        """A list of whole numbers from `low` to `high`; without a default it must not be empty."""
        value = self._get(key, default)
        if isinstance(value, (list, tuple)) and all(type(n) is int and low <= n <= high for n in value):
            numbers: tuple[int, ...] = tuple(value)
            if numbers or default is not None:
                return numbers
        return self._wrong(key, value, f"a list of whole numbers from {low} to {high}", ())

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts, none of them empty."""
        value = self._get(key, None)
        if isinstance(value, list) and value and all(isinstance(item, str) and item for item in value):
            return tuple(value)
        return self._wrong(key, value, "a list of texts", ())

    def yes(self, key: str, default: bool) -> bool:
        """True or false."""
        value = self._get(key, default)
        return value if isinstance(value, bool) else self._wrong(key, value, "true or false", default)

    def decimal(self, key: str) -> Decimal:
        """An exact number greater than zero, written as text or as a number."""
        value = self._get(key, None)
        number = _decimal(value)
        if number is not None and number > 0:
            return number
        return self._wrong(key, value, "a number above zero", Decimal(1))

    def interval(self, key: str) -> tuple[Decimal, Decimal]:
        """Two numbers, the smaller first."""
        value = self._get(key, None)
        if isinstance(value, list) and len(value) == 2:
            low, high = map(_decimal, value)
            if low is not None and high is not None and low < high:
                return low, high
        return self._wrong(key, value, "two numbers, the smaller first", (Decimal(0), Decimal(1)))

    def table(self, key: str) -> Table:
        """A table within this one; must be there."""
        value = self._get(key, None)
        data: dict[str, Any] = value if isinstance(value, dict) else self._wrong(key, value, "a table", {})
        return Table(data, self._place, self.problems, f"{self._path}{key}.")

    def tables(self, key: str) -> list[Table]:
        """A list of tables; must be there and not empty."""
        value = self._get(key, None)
        if not (isinstance(value, list) and value and all(isinstance(item, dict) for item in value)):
            return self._wrong(key, value, "a list of tables", [])
        paths = (f"{self._path}{key}[{n}]." for n in range(1, len(value) + 1))
        return [
            Table(item, self._place, self.problems, path) for item, path in zip(value, paths, strict=True)
        ]

    def nothing_else(self) -> None:
        """Note every key that nobody asked for."""
        for key in self._data:
            if key not in self._asked:
                known = ", ".join(sorted(self._asked))
                self.problem(key, f"no such key here; known: {known}")

    def _get(self, key: str, default: object) -> object:
        self._asked.add(key)
        return self._data.get(key, default)

    def _wrong(self, key: str, value: object, wanted: str, instead: _T) -> _T:
        self.problem(key, f"missing: give {wanted}" if value is None else f"must be {wanted}, not {value!r}")
        return instead


def _decimal(value: object) -> Decimal | None:
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return None
    try:
        number = Decimal(str(value))
    except ArithmeticError:
        return None
    return number if number.is_finite() else None
