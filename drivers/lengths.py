"""Lengths as makers write them, to exact numbers and back: the only place that knows inches.

Read: decimals with a point or a comma (`31.75`, `31,75`, `.085`), fractions and mixed numbers
(`3/32`, `1 1/4`, `1-1/4`, `1¼`), a sign before them, and a unit after them or none.
A comma is always the decimal comma (`1,250` is one and a quarter), so thousands separators are refused.
A fraction without a unit is in inches whatever the default unit, because nobody writes
fractions of a millimetre (common practice, no source).
An inch is 25.4 mm exactly (international inch, NIST SP 811 appendix B.8).
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from typing import NamedTuple, NoReturn

from drivers.errors import LengthError
from drivers.reading import NM_PER, NM_PER_INCH, UNITS, Unit, is_unit

_WORDS: dict[str, tuple[Unit, Fraction]] = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), ("mm", Fraction(1))),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), ("mm", Fraction(10))),
    **dict.fromkeys(("um", "µm", "μm", "micron", "microns"), ("mm", Fraction(1, 1000))),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "″", "”", "''", "′′", "’’"), ("in", Fraction(1))),
    **dict.fromkeys(("thou", "thous", "mil", "mils"), ("in", Fraction(1, 1000))),
    **dict.fromkeys(("deg", "degree", "degrees", "°", "º"), ("deg", Fraction(1))),
    **dict.fromkeys(("%", "percent", "per cent"), ("%", Fraction(1))),
}
_REFUSED = {
    **dict.fromkeys(("'", "′", "’", "ft", "foot", "feet"), "feet are not read"),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "whole metres are not read"),
}
_KINDS: dict[Unit, str] = {"mm": "a length", "in": "a length", "deg": "an angle", "%": "a percentage"}
_MOST: dict[Unit, Fraction] = {
    "mm": Fraction(10_000),
    "in": Fraction(10_000_000_000, NM_PER_INCH),
    "deg": Fraction(360),
    "%": Fraction(1000),
}
_VULGAR = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅓": "1/3", "⅔": "2/3", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6",
}  # fmt: skip
_ACCEPTED = "type a number such as 31.75, 31,75, 1.250 in, 1 1/4, 1-1/4 in or 12 thou"
_MAX_TYPED = 60
_DECIMAL = re.compile(r"[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+")
_FRACTION = re.compile(r"(?:(?P<whole>[0-9]+)(?: +|[-‐‑]))?(?P<top>[0-9]+) ?/ ?(?P<bottom>[0-9]+)")
_SHAPE = re.compile(r"(?P<sign>[+-])? *(?P<number>[0-9.,][0-9.,/ ‐‑-]*?) *(?P<word>[^0-9.,/ ‐‑-].*)?")
_EXACT = Context(prec=80)


class _Quantity(NamedTuple):
    size: Fraction
    unit: Unit
    digits: Decimal


def parse_length(text: str, unit: str = "mm") -> float:
    """Read a length and give it in millimetres.

    `unit` ("mm" or "in") holds where the text names none. LengthError (a ValueError) says what
    was typed and what is read: empty, not finite, thousands separators, a zero denominator, feet,
    angles, anything beyond 10 m.
    """
    quantity = _length(text, unit)
    return float(quantity.size * NM_PER[quantity.unit] / NM_PER["mm"])


def parse_length_nm(text: str, unit: str = "mm") -> int:
    """Read a length and give it in whole nanometres; rounds half to even only where not exact."""
    quantity = _length(text, unit)
    return round(quantity.size * NM_PER[quantity.unit])


def parse_quantity(text: str, unit: str = "mm") -> tuple[Decimal, Unit]:
    """Read a length, an angle or a percentage: the number as typed, and its unit (mm, in, deg or %).

    The text may name another unit of the same kind as `unit` (in for mm), not of another kind.
    Centimetres and micrometres come back in mm, thou in inches. LengthError says why not.
    """
    quantity = _parse(text, unit)
    return quantity.digits, quantity.unit


def format_length(nanometres: int, unit: str = "mm", places: int | None = None) -> str:
    """Write a length in `unit` with `places` decimals (2 for mm, 4 for in) and its unit.

    Rounded half to even, for showing only: compare the nanometres, not the text.
    """
    if unit not in NM_PER:
        raise LengthError(f"a length is shown in mm or in, not {unit!r}")
    if places is None:
        places = 2 if unit == "mm" else 4
    steps = round(Fraction(nanometres, NM_PER[unit]) * 10**places)
    return f"{Decimal(steps).scaleb(-places, _EXACT):.{places}f} {unit}"


def format_fraction(nanometres: int, denominator: int = 64) -> str:
    """Write a length as the nearest inch fraction: `1 1/4 in`, or `about 1 17/64 in` where not exact."""
    if denominator < 1:
        raise LengthError(f"a fraction needs a denominator of 1 or more, not {denominator}")
    exact = Fraction(nanometres, NM_PER_INCH)
    nearest = Fraction(round(exact * denominator), denominator)
    whole, rest = divmod(abs(nearest), 1)
    parts = ([str(whole)] if whole or not rest else []) + ([str(rest)] if rest else [])
    return f"{'' if nearest == exact else 'about '}{'-' if nearest < 0 else ''}{' '.join(parts)} in"


def _length(text: str, unit: str) -> _Quantity:
    if unit not in NM_PER:
        raise LengthError(f"a length is in mm or in, not {unit!r}")
    return _parse(text, unit)


def _parse(text: str, unit: str) -> _Quantity:
    if not is_unit(unit):
        raise LengthError(f"the unit must be one of {', '.join(UNITS)}, not {unit!r}")
    if not isinstance(text, str):
        raise LengthError(f"a length is read from text, not from {type(text).__name__}")
    plain = _plain(text)
    if not plain:
        _refuse(text, "nothing was typed")
    shape = _SHAPE.fullmatch(plain) if len(plain) <= _MAX_TYPED else None
    if shape is None:
        _refuse(text, "not a number")
    digits, fractional = _number(text, shape["number"].strip())
    given, scale = _unit(text, shape["word"], unit, fractional)
    size = Fraction(digits) * scale * (-1 if shape["sign"] == "-" else 1)
    if abs(size) > _MOST[given]:
        _refuse(text, f"beyond {float(_MOST[given]):g} {given}")
    return _Quantity(size, given, _as_typed(digits, size))


def _plain(text: str) -> str:
    for sign, written in _VULGAR.items():
        text = text.replace(sign, f" {written}")
    text = text.replace("\N{FRACTION SLASH}", "/").replace("\N{MINUS SIGN}", "-")
    return " ".join(text.split())


def _number(text: str, number: str) -> tuple[Decimal | Fraction, bool]:
    if _DECIMAL.fullmatch(number):
        return Decimal(number.replace(",", ".")), False
    match = _FRACTION.fullmatch(number)
    if match is None:
        _refuse(text, _what_is_wrong(number))
    top, bottom = int(match["top"]), int(match["bottom"])
    if bottom == 0:
        _refuse(text, "the lower number of a fraction cannot be zero")
    if match["whole"] is not None and top >= bottom:
        _refuse(text, "the fraction after a whole number must be less than one")
    return int(match["whole"] or 0) + Fraction(top, bottom), True


def _what_is_wrong(number: str) -> str:
    if "/" in number and re.search("[.,]", number):
        return "a fraction with a decimal in it"
    if "." in number and "," in number:
        return "point and comma together: write no thousands separators"
    if number.count(".") + number.count(",") > 1:
        return "more than one decimal point or comma"
    return "not one number"


def _unit(text: str, word: str | None, default: Unit, fractional: bool) -> tuple[Unit, Fraction]:
    if word is None:
        inches = fractional and _KINDS[default] == "a length"
        return ("in" if inches else default), Fraction(1)
    name = word.strip().lower()
    if name in _REFUSED:
        _refuse(text, _REFUSED[name])
    if name not in _WORDS:
        _refuse(text, f"no unit is called {word.strip()!r}")
    unit, scale = _WORDS[name]
    if _KINDS[unit] != _KINDS[default]:
        _refuse(text, f"{_KINDS[unit]} where {_KINDS[default]} is wanted")
    return unit, scale


def _as_typed(digits: Decimal | Fraction, size: Fraction) -> Decimal:
    """The size as a decimal: with the zeros that were typed; a third to 30 digits."""
    if isinstance(digits, Decimal) and abs(size) == Fraction(digits):
        return digits.copy_sign(Decimal(-1 if size < 0 else 1))
    context = Context(prec=30, rounding=ROUND_HALF_EVEN)
    return context.divide(Decimal(size.numerator), Decimal(size.denominator))


def _refuse(text: str, why: str) -> NoReturn:
    shown = text if len(text) <= _MAX_TYPED else text[: _MAX_TYPED - 3] + "..."
    raise LengthError(f"cannot read {shown!r}: {why}; {_ACCEPTED}")
