"""Lines of text to readings, and a reading to its line."""

from __future__ import annotations

import re
from datetime import datetime
from decimal import Decimal

from drivers.profile import Profile, TextLayout
from drivers.reading import BadRecord, Reading, Unit

_HIGH_BIT = re.compile(rb"[\x80-\xff]")
_CONTROL = re.compile(rb"[\x00-\x08\x0e-\x1f\x7f]")


class TextRecords:
    """Splits at terminators and reads each line by the pattern; empty lines are not records.

    Keeps at most the longest allowed line between calls; a longer one is reported once and the
    rest of it dropped up to the next terminator.
    """

    def __init__(self, profile: Profile, layout: TextLayout) -> None:
        self._profile = profile
        self._layout = layout
        self._match = layout.pattern.fullmatch
        self._split = re.compile(b"[" + re.escape(layout.terminators) + b"]").split
        self._rest = b""
        self._skip: str | None = None

    @property
    def pending(self) -> bytes:
        """Bytes of a record that has not ended yet."""
        return self._rest

    def feed(self, data: bytes, at: datetime | None) -> list[Reading | BadRecord]:
        """Read every line that ends in `data`."""
        *lines, rest = self._split(self._rest + data)
        out: list[Reading | BadRecord] = []
        if lines and self._skip is not None:
            out += self._skipped(lines.pop(0), at)
            self._skip = None
        out += [self._read(line, at) for line in lines if line]
        if len(rest) > self._layout.longest:
            out += [self._too_long(rest, at)] if self._skip is None else self._skipped(rest, at)
            self._skip, rest = "", b""
        self._rest = rest if self._skip != "" else b""
        return out

    def distrust(self, why: str) -> None:
        """Refuse the line now under way, because its beginning may be missing."""
        self._skip = why

    def drop(self, why: str, at: datetime | None) -> list[BadRecord]:
        """Forget the line under way; it comes back as a bad record if there is anything of it."""
        dropped, self._rest, self._skip = self._rest, b"", None
        return [BadRecord(dropped, why, at)] if dropped else []

    def _read(self, line: bytes, at: datetime | None) -> Reading | BadRecord:
        if len(line) > self._layout.longest:
            return self._too_long(line, at)
        match = self._match(line)
        if match is None:
            return BadRecord(line, self._why(line), at)
        sign, number, word = match.group("sign", "number", "unit")
        unit = self._layout.words.get(word.lower()) if word else self._profile.unit
        if unit is None:
            return BadRecord(line, f"no unit is called {word.decode('latin-1')!r}", at)
        try:
            value = Decimal(
                ((sign or b"") + (number or b"").replace(b" ", b"").replace(b",", b".")).decode("latin-1")
            )
            low, high = self._profile.limits[unit]
            if low <= value <= high:
                return Reading(value, unit, line, at)
        except ArithmeticError:
            return BadRecord(line, "the number cannot be read", at)
        return BadRecord(line, f"{value} {unit} is not plausible: outside {low} to {high}", at)

    def _skipped(self, line: bytes, at: datetime | None) -> list[BadRecord]:
        return [BadRecord(line[: self._layout.longest], self._skip, at)] if line and self._skip else []

    def _too_long(self, line: bytes, at: datetime | None) -> BadRecord:
        longest = self._layout.longest
        return BadRecord(line[:longest], f"no end of record within {longest} bytes", at)

    def _why(self, line: bytes) -> str:
        if _HIGH_BIT.search(line):
            return (
                "bytes that are not plain letters: speed or parity probably differ from the instrument's"
                f" (this profile has {self._profile.line})"
            )
        if _CONTROL.search(line):
            return "control bytes inside the record: noise on the line, or another layout"
        return f"does not look like a record of {self._profile.name}"


def write_text(profile: Profile, layout: TextLayout, value: Decimal, unit: Unit) -> bytes:
    """The line an instrument of this profile sends for `value`, already a whole number of steps."""
    word = next((word for word, each in layout.words.items() if each == unit), b"").decode("latin-1")
    places = max(0, -int(profile.step[unit].as_tuple().exponent))
    number = f"{abs(value):0{layout.width}.{places}f}"
    line = layout.written.replace("{sign}", "-" if value.is_signed() and value else "+")
    return line.replace("{number}", number).replace("{unit}", word.upper()).encode("latin-1")
