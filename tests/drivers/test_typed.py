"""Typed and keyboard-wedge lines."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import LengthError
from drivers.reading import BadRecord, Reading
from drivers.typed import read_typed


@pytest.mark.parametrize(
    ("line", "unit", "value", "read_unit"),
    [
        ("31,75", "mm", "31.75", "mm"),
        ("1.250 in\n", "mm", "1.250", "in"),
        ("1 1/4", "mm", "1.25", "in"),
        ("\ufeff+0025.40 mm\t\r\n", "in", "25.40", "mm"),
        ("\x0225.40\x03", "mm", "25.40", "mm"),
        ("-0.02", "mm", "-0.02", "mm"),
        ("0.2 deg", "deg", "0.2", "deg"),
        ("8,5%", "%", "8.5", "%"),
    ],
)
def test_reads_typed_lines(line, unit, value, read_unit):
    """Decimal comma, unit, fraction and the marks of a wedge are understood; digits stay as typed."""
    reading = read_typed(line, unit)
    assert isinstance(reading, Reading)
    assert (str(reading.value).lstrip("0") or "0", reading.unit) == (value.lstrip("0"), read_unit)


def test_prefix_and_suffix_of_a_wedge_are_taken_off():
    """What the wedge is set to put around its number is not part of it, and may be missing."""
    at = datetime(2024, 5, 1, tzinfo=UTC)
    reading = read_typed("C1:25.40;\n", prefix="C1:", suffix=";", at=at)
    assert (str(reading.value), reading.raw, reading.at) == ("25.40", "C1:25.40;", at)
    assert str(read_typed("25.40", prefix="C1:", suffix=";").value) == "25.40"


@pytest.mark.parametrize("line", ["", "\n", "abc", "1,234.5", "5 deg", "25.40 25.41", "C2:25.40;"])
def test_what_is_not_certain_is_a_bad_record(line):
    """A bad line is an event with its text and a reason, not an exception."""
    record = read_typed(line, prefix="C1:", suffix=";")
    assert isinstance(record, BadRecord)
    assert record.raw == line
    assert "cannot read" in record.why


def test_an_unknown_unit_is_a_mistake_of_the_caller():
    """A default unit that is none raises, because no line could ever be right."""
    with pytest.raises(LengthError, match="must be one of"):
        read_typed("1", "stone")


@given(st.text(max_size=40))
def test_any_line_is_read_or_refused(line):
    """No text makes it raise."""
    assert isinstance(read_typed(line), Reading | BadRecord)
