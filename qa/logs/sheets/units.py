"""What a number in a sheet is written in: its unit, and its decimal mark."""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import suppress

from drivers.lengths import parse_length, parse_quantity
from qa.logs.sheets.cells import Exact

LENGTHS = ("mm", "in")
MARKS = {"point": ".", "comma": ","}
_GROUPED = r"[1-9]\d{{0,2}}(?:{other}\d{{3}})+(?:{mark}\d+)?"
_SINGLE = r"\d+(?:{mark}\d*)?|{mark}\d+"
_NUMBER = re.compile(r"[\d.,]*[.,][\d.,]*")
_BRACKETED = re.compile(r"(?P<base>.+?)\s*[(\[]\s*(?:in\s+)?(?P<unit>[^()\[\]]+?)\s*[)\]]")
_TRAILING = re.compile(r"(?P<base>.+?)(?:\s*(?P<sign>[\"″”%°])|[\s,]+(?:in\s+)?(?P<unit>[^\s\d]+))")


def unit_of(word: str) -> str | None:
    """A unit as the log writes it, "mm" for "millimetres"; of a multiple ("cm", "thou") the word itself.

    None for a word that is no unit.
    """
    for kind in ("mm", "%", "deg") if word.strip() else ():
        with suppress(ValueError):
            number, unit = parse_quantity(f"1 {word}", kind)
            return str(unit) if number == 1 else word.casefold()
    return None


def without_unit(heading: str) -> tuple[str, str]:
    """A column's name without the unit in it, and that unit: "thickness (mm)", "top, in", 'width"'; or ""."""
    for form in (_BRACKETED, _TRAILING):
        match = form.fullmatch(heading)
        word = match and (match.groupdict().get("sign") or match["unit"])
        if match and word and unit_of(word):
            return match["base"], unit_of(word) or ""
    return heading, ""


def bare(text: str) -> bool:
    """Whether a text is a number that does not say its unit: a fraction does, as it is in inches."""
    try:
        units = {parse_quantity(text, kind)[1] for kind in LENGTHS}
    except ValueError:
        return False
    return len(units) == 2


def is_quantity(text: str) -> bool:
    """Whether a text is a number, with a unit or without."""
    for kind in ("mm", "%", "deg"):
        with suppress(ValueError):
            parse_quantity(text, kind)
            return True
    return any(re.fullmatch(form, text) for sign in MARKS for form in _forms(sign))


def unit_that_fits(sizes: Iterable[tuple[str, tuple[float, float] | None]]) -> str:
    """The one unit in which every size lies near its limits while none does in the other; "" where not so.

    sizes: each a number as written and its limits in millimetres. Near is within the limits widened by their
    own width either way.
    """
    near: dict[str, list[bool]] = {unit: [] for unit in LENGTHS}
    for text, limits in sizes:
        if limits is None:
            return ""
        width = limits[1] - limits[0]
        for unit, fits in near.items():
            fits.append(limits[0] - width <= parse_length(text, unit) <= limits[1] + width)
    for unit, other in (LENGTHS, LENGTHS[::-1]):
        if near[unit] and all(near[unit]) and not any(near[other]):
            return unit
    return ""


def _forms(sign: str) -> tuple[str, str]:
    """How a number is written under a decimal mark: with groups of thousands, and without."""
    mark, other = (re.escape(MARKS[name]) for name in (sign, "comma" if sign == "point" else "point"))
    return _GROUPED.format(mark=mark, other=other), _SINGLE.format(mark=mark)


def decimal_mark(texts: Iterable[str]) -> tuple[str, str]:
    """The decimal mark of numbers as typed, and a number that leaves it open; either or both may be "".

    A point is a decimal point where no number has a comma. "1,250" may be a thousand or one and a quarter:
    it is settled where every number can be read in one way only, and groups of thousands are seen for
    certain ("1,250.5"). Where no mark is needed, or each number settles its own, both are "".
    """
    numbers = [match[0] for text in texts if not isinstance(text, Exact) and (match := _NUMBER.search(text))]
    if not any("," in number for number in numbers):
        return "", ""
    fits = {sign: [_reads(number, sign) for number in numbers] for sign in MARKS}
    either = [n for n, *ways in zip(numbers, *fits.values(), strict=True) if all(ways)]
    grouped = any("," in number and "." in number for number in numbers)
    marks = [sign for sign, ways in fits.items() if all(ways)]
    if not either:
        return (marks[0] if len(marks) == 1 else ""), ""
    return (marks[0], "") if grouped and len(marks) == 1 else ("", either[0])


def _reads(number: str, sign: str) -> bool:
    return any(re.fullmatch(form, number) for form in _forms(sign))


def ungrouped(text: str, sign: str) -> str:
    """A number as typed without its groups of thousands, under a decimal mark that is known."""
    match = None if isinstance(text, Exact) or not sign else _NUMBER.search(text)
    if not match or not re.fullmatch(_forms(sign)[0], match[0]):
        return text
    other = MARKS["comma" if sign == "point" else "point"]
    return text[: match.start()] + match[0].replace(other, "") + text[match.end() :]


def percent(text: str) -> str:
    """A number of per cent or degrees without the sign behind it."""
    return re.sub(r"\s*(?:%|°\s*C?)$", "", text)
