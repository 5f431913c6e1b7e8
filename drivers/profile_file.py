"""A profile's TOML file to a `Profile`, with every problem at once."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal
from pathlib import Path

from drivers.errors import LengthError, ProfileError
from drivers.lengths import parse_quantity
from drivers.profile import (
    QUANTITY_UNITS,
    BcdLayout,
    BinaryLayout,
    Example,
    LineSettings,
    Profile,
    Quantity,
    TextLayout,
)
from drivers.reading import UNITS, Unit
from drivers.toml_table import Table

_LONGEST_TEXT = 256
_LONGEST_GROUPS = 64
_LONGEST_BITS = 128
_KINDS = ("text", "bcd", "binary")


def read_profile(path: Path) -> Profile:
    """Read one profile file; ProfileError lists every problem with its file and key."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise ProfileError([f"{path}: cannot be read: {error.strerror}"]) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ProfileError([f"{path}: is not TOML: {error}"]) from error
    problems: list[str] = []
    profile = _profile(path.stem, Table(data, path.name, problems))
    if profile is None or problems:
        raise ProfileError(problems)
    return profile


def _profile(name: str, top: Table) -> Profile | None:
    title = top.text("title")
    kind = top.choice("kind", _KINDS)
    quantity: Quantity = top.choice("quantity", list(QUANTITY_UNITS))  # type: ignore[assignment]  # one of them
    units = QUANTITY_UNITS[quantity]
    unit: Unit = top.choice("unit", units)  # type: ignore[assignment]  # one of them
    step_table, limit_table = top.table("step"), top.table("limits")
    known = [each for each in units if each == unit or each in step_table or each in limit_table]
    step = {each: step_table.decimal(each) for each in known}
    limits = {each: limit_table.interval(each) for each in known}
    line = _line(top.table("line"))
    request = _bytes(top, "request", top.text("request", ""))
    described = top.table(kind)
    layout = _layout(kind, described, unit, step) if kind in top else None
    examples = tuple(_example(table, units) for table in top.tables("examples"))
    for table in (step_table, limit_table, top):
        table.nothing_else()
    if layout is None or top.problems:
        return None
    return Profile(name, title, quantity, unit, step, limits, line, request, layout, examples)


def _layout(
    kind: str, table: Table, unit: Unit, step: dict[Unit, Decimal]
) -> TextLayout | BcdLayout | BinaryLayout | None:
    layout = {"text": _text, "bcd": _bcd, "binary": _binary}[kind](table, unit)
    table.nothing_else()
    units: set[Unit] = set()
    if isinstance(layout, TextLayout):
        units.update(layout.words.values())
    elif isinstance(layout, BcdLayout):
        units.update(layout.units.values())
    elif layout is not None and layout.inch is not None:
        units.update(("mm", "in"))
    for each in sorted(units - set(step)):
        table.problem("units", f"a record can be in {each}: give step.{each} and limits.{each}")
    return layout


def _line(table: Table) -> LineSettings:
    settings = LineSettings(
        table.integer("baud", 50, 4_000_000),
        table.integer("bytesize", 5, 8),
        table.choice("parity", ("none", "even", "odd"))[0].upper(),
        float(table.choice("stopbits", ("1", "1.5", "2"))),
    )
    table.nothing_else()
    return settings


def _text(table: Table, unit: Unit) -> TextLayout | None:
    ends = "".join(table.texts("terminators"))
    terminators = _bytes(table, "terminators", ends)
    pattern = _pattern(table, table.text("pattern"))
    words = table.table("words")
    spelled = {each: words.texts(each) for each in UNITS if each in words}
    words.nothing_else()
    longest = table.integer("longest", 1, _LONGEST_TEXT)
    written = table.text("written")
    width = table.integer("width", 1, 40, 1)
    if "{number}" not in written:
        table.problem("written", "has no {number}")
    if ends and written and written[-1] not in ends:
        table.problem("written", "does not end in a terminator")
    by_word = {word.lower().encode(): each for each, spellings in spelled.items() for word in spellings}
    return None if pattern is None else TextLayout(terminators, pattern, by_word, longest, written, width)


def _pattern(table: Table, text: str) -> re.Pattern[bytes] | None:
    try:
        pattern = re.compile(text.encode("ascii"), re.IGNORECASE)
    except (re.error, UnicodeEncodeError) as error:
        table.problem("pattern", f"is not a pattern of plain characters: {error}")
        return None
    unknown = set(pattern.groupindex) - {"sign", "number", "unit"}
    if text and ("number" not in pattern.groupindex or unknown):
        table.problem("pattern", "needs the named group number, and may have sign and unit; no others")
        return None
    missing = {"sign", "unit"} - set(pattern.groupindex)
    return re.compile(pattern.pattern + b"".join(b"(?P<%s>)" % g.encode() for g in missing), re.IGNORECASE)


def _bcd(table: Table, unit: Unit) -> BcdLayout:
    groups = table.integer("groups", 2, _LONGEST_GROUPS)
    header = table.integers("header", 0, 15)
    packed = table.choice("packing", ("one per byte", "two per byte")) == "two per byte"
    digits = table.integers("digits", len(header), groups - 1)
    sign, point, unit_at = (table.position(key, groups) for key in ("sign", "point", "unit"))
    plus, minus = table.integer("plus", 0, 15, 0), table.integer("minus", 0, 15, 8)
    codes = table.table("units") if unit_at is not None else None
    units: dict[int, Unit] = {}
    if codes is not None:
        units = {codes.integer(each, 0, 15): each for each in UNITS if each in codes}
        codes.nothing_else()
        if not units:
            table.problem("units", "gives no unit a number")
    used = [*range(len(header)), *digits, *(place for place in (sign, point, unit_at) if place is not None)]
    if len(set(used)) != len(used):
        table.problem("digits", "two things share a group: header, digits, sign, point and unit are apart")
    if packed and len(header) % 2:
        table.problem("header", "must fill whole bytes: an even number of groups")
    if plus == minus:
        table.problem("minus", "is the same as plus")
    return BcdLayout(header, groups, packed, digits, sign, plus, minus, point, unit_at, units)


def _binary(table: Table, unit: Unit) -> BinaryLayout:
    bits = table.integer("bits", 2, _LONGEST_BITS)
    header = bytes(table.integers("header", 0, 255))
    per_byte = table.integer("bits_per_byte", 1, 8)
    count = table.integers("count", 0, bits - 1)
    sign, inch = table.position("sign", bits), table.position("inch", bits)
    ones, zeros = table.integers("ones", 0, bits - 1, ()), table.integers("zeros", 0, bits - 1, ())
    check = table.choice("check", ("none", "xor")) == "xor"
    if len(count) != 2 or count[0] > count[1]:
        table.problem("count", "must be the first and the last bit of the count")
        count = (0, 0)
    used = [*range(count[0], count[1] + 1), *ones, *zeros, *(bit for bit in (sign, inch) if bit is not None)]
    if len(set(used)) != len(used):
        table.problem("count", "two things share a bit: count, sign, inch, ones and zeros are apart")
    if inch is not None and unit not in ("mm", "in"):
        table.problem("inch", "only a length can be in inches")
    return BinaryLayout(header, bits, per_byte, (count[0], count[1]), sign, inch, ones, zeros, check)


def _example(table: Table, units: tuple[Unit, ...]) -> Example:
    if "bytes" in table:
        sent = bytes(table.integers("bytes", 0, 255))
    else:
        sent = _bytes(table, "text", table.text("text"))
    reads = table.text("reads")
    table.nothing_else()
    if reads == "refused":
        return Example(sent, None, None)
    try:
        return Example(sent, *parse_quantity(reads, units[0]))
    except LengthError as error:
        table.problem("reads", f"must be a number with its unit, or refused: {error}")
        return Example(sent, None, None)


def _bytes(table: Table, key: str, text: str) -> bytes:
    try:
        return text.encode("latin-1")
    except UnicodeEncodeError:
        table.problem(key, "has characters that are not single bytes")
        return b""
