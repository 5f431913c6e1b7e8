"""A line typed by hand, or by an instrument that acts as a keyboard, to a reading."""

from __future__ import annotations

from datetime import datetime

from drivers.errors import LengthError
from drivers.lengths import parse_quantity
from drivers.reading import BadRecord, Reading


def read_typed(
    line: str, unit: str = "mm", *, prefix: str = "", suffix: str = "", at: datetime | None = None
) -> Reading | BadRecord:
    """Read `31,75`, `1.250 in`, `1 1/4` or what a keyboard wedge sent, in `unit` where it names none.

    `prefix` and `suffix` are what the wedge is set to put around its number; they are taken off where
    they are there. Control characters around the text (tab, Enter, marks) are ignored. What cannot be read
    for certain comes back as a BadRecord; LengthError only for a `unit` that is none.
    """
    parse_quantity("0", unit)
    text = _bare(line)
    text = text.removeprefix(prefix) if prefix else text
    text = text.removesuffix(suffix) if suffix else text
    try:
        value, read_unit = parse_quantity(_bare(text), unit)
    except LengthError as error:
        return BadRecord(line, str(error), at)
    return Reading(value, read_unit, line.rstrip("\r\n"), at)


def _bare(text: str) -> str:
    start, end = 0, len(text)
    while start < end and not (text[start].isprintable() and text[start] != " "):
        start += 1
    while end > start and not (text[end - 1].isprintable() and text[end - 1] != " "):
        end -= 1
    return text[start:end]
