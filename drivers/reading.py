"""What an instrument said: a reading, or a record that could not be read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Literal, TypeGuard

from drivers.errors import LengthError

Unit = Literal["mm", "in", "deg", "%"]
UNITS: tuple[Unit, ...] = ("mm", "in", "deg", "%")
NM_PER_MM = 1_000_000
NM_PER_INCH = 25_400_000
NM_PER: dict[str, int] = {"mm": NM_PER_MM, "in": NM_PER_INCH}


def is_unit(text: str) -> TypeGuard[Unit]:
    """Whether `text` is one of the four units a reading may have."""
    return text in UNITS


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading as it was sent or typed.

    `value` keeps the digits as sent, in `unit`; `raw` is the record itself, without line ends;
    `at` is when it arrived, where the caller knows. LengthError for a value that is not finite
    or a unit that is not known.
    """

    value: Decimal
    unit: Unit
    raw: bytes | str
    at: datetime | None = None

    def __post_init__(self) -> None:
        if self.unit not in UNITS or not self.value.is_finite():
            raise LengthError(
                f"a reading needs a number in one of {', '.join(UNITS)}: {self.value} {self.unit}"
            )

    @property
    def nanometres(self) -> int | None:
        """The length in whole nanometres, exact or rounded half to even; None unless a length."""
        scale = NM_PER.get(self.unit)
        return None if scale is None else round(Fraction(self.value) * scale)


@dataclass(frozen=True, slots=True)
class BadRecord:
    """Bytes or text that could not be read, and why; to be counted and shown, never guessed at."""

    raw: bytes | str
    why: str
    at: datetime | None = None
