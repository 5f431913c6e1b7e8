"""What an instrument sends, as values: a profile and the layout of its records.

Profiles are written as TOML files (`drivers/profiles`) and read by `drivers.profile_file`;
everything the decoder does comes from here, so a new instrument needs a file and no code.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from drivers.reading import Unit

Quantity = Literal["length", "angle", "percent"]
QUANTITY_UNITS: dict[Quantity, tuple[Unit, ...]] = {
    "length": ("mm", "in"),
    "angle": ("deg",),
    "percent": ("%",),
}


@dataclass(frozen=True, slots=True)
class LineSettings:
    """How bytes travel on the serial line; parity is N, E or O."""

    baud: int
    bytesize: int
    parity: str
    stopbits: float

    def __str__(self) -> str:
        return f"{self.baud} {self.bytesize}{self.parity}{self.stopbits:g}"


@dataclass(frozen=True, slots=True)
class TextLayout:
    """Records that are lines of text.

    `pattern` has the groups sign, number and unit; `words` gives the unit of each word, lower case;
    `written` is the line as the instrument writes it, with {sign}, {number} and {unit}.
    """

    terminators: bytes
    pattern: re.Pattern[bytes]
    words: Mapping[bytes, Unit]
    longest: int
    written: str
    width: int


@dataclass(frozen=True, slots=True)
class BcdLayout:
    """Records of four-bit groups, one decimal digit each; positions count from 0, the header included.

    `digits` lists positions from the most to the least significant; `point` holds how many digits
    follow the decimal point, which must agree with the step of the unit; groups named by nothing are 0.
    """

    header: tuple[int, ...]
    groups: int
    packed: bool
    digits: tuple[int, ...]
    sign: int | None
    plus: int
    minus: int
    point: int | None
    unit: int | None
    units: Mapping[int, Unit]


@dataclass(frozen=True, slots=True)
class BinaryLayout:
    """Records of `bits` bits, least significant first, `bits_per_byte` to a byte, after a header.

    The count is in steps of the unit; bits in `ones` are always 1 and bits in `zeros` always 0;
    `check` adds a byte: the exclusive or of the bytes that carry the bits.
    """

    header: bytes
    bits: int
    bits_per_byte: int
    count: tuple[int, int]
    sign: int | None
    inch: int | None
    ones: tuple[int, ...]
    zeros: tuple[int, ...]
    check: bool


@dataclass(frozen=True, slots=True)
class Example:
    """Bytes as sent and what they must be read as; none where they must be refused."""

    sent: bytes
    value: Decimal | None
    unit: Unit | None


@dataclass(frozen=True, slots=True)
class Profile:
    """One kind of instrument.

    `unit` holds where a record names none; `step` is the smallest change shown, and `limits` the
    smallest and largest plausible value, each per unit. `request` is sent to ask for one reading,
    empty where the instrument sends by itself. A profile has no other command, so nothing that
    zeroes or presets an instrument can be sent by accident.
    """

    name: str
    title: str
    quantity: Quantity
    unit: Unit
    step: Mapping[Unit, Decimal]
    limits: Mapping[Unit, tuple[Decimal, Decimal]]
    line: LineSettings
    request: bytes
    layout: TextLayout | BcdLayout | BinaryLayout
    examples: tuple[Example, ...]
