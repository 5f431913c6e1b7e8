"""Typed lengths to exact numbers and back."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import DriverError, LengthError
from drivers.lengths import format_fraction, format_length, parse_length, parse_length_nm, parse_quantity

READS = [
    ("31.75", "mm", 31_750_000),
    ("31,75", "mm", 31_750_000),
    (".085", "in", 2_159_000),
    ("5.", "mm", 5_000_000),
    ("+ 2.5", "mm", 2_500_000),
    ("-0.02", "mm", -20_000),
    ("\N{MINUS SIGN}0,02", "mm", -20_000),
    ("1 1/4", "mm", 31_750_000),
    ("1-1/4", "mm", 31_750_000),
    ('1-1/4"', "mm", 31_750_000),
    ("1 1/4 in", "mm", 31_750_000),
    ("1¼", "mm", 31_750_000),
    ("1\N{FRACTION SLASH}64", "in", 396_875),
    ("2 3/8 in", "mm", 60_325_000),
    ("11/8", "in", 34_925_000),
    ("1-1/8", "in", 28_575_000),
    ("-1-1/8", "in", -28_575_000),
    ("-3/32", "in", -2_381_250),
    ("1/2 mm", "mm", 500_000),
    ('1.250"', "mm", 31_750_000),
    ("1.250''", "mm", 31_750_000),
    ("1.250 Inches", "mm", 31_750_000),
    ("12 thou", "mm", 304_800),
    ("12 mil", "mm", 304_800),
    ("0.0005", "in", 12_700),
    ("2 cm", "mm", 20_000_000),
    ("50 µm", "mm", 50_000),
    ("25.40 MM", "in", 25_400_000),
    ("1/3", "in", 8_466_667),
    ("1/128", "in", 198_438),
    ("10000", "mm", 10_000_000_000),
]
REFUSES = [
    ("", "nothing was typed"),
    ("  ", "nothing was typed"),
    ("nan", "not a number"),
    ("-inf", "not a number"),
    ("mm", "not a number"),
    ("1.125.3", "more than one decimal"),
    ("1,234.5", "thousands"),
    ("1,234,567", "more than one decimal"),
    ("1/0", "zero"),
    ("1.5/2", "decimal"),
    ("1 5/4", "less than one"),
    ("1 1/4 1/8", "not one number"),
    ("1 000", "not one number"),
    ("1 - 1/8", "not one number"),
    ("--1", "not a number"),
    ("10000.001", "beyond"),
    ("400 in", "beyond"),
    ("5 deg", "an angle where a length is wanted"),
    ("5 %", "a percentage where a length is wanted"),
    ("2'", "feet"),
    ("5 m", "metres"),
    ("1e3", "no unit"),
    ("0x10", "no unit"),
    ("1_000", "no unit"),
    ("٣", "not a number"),
    ("9" * 5000, "not a number"),
]


@pytest.mark.parametrize(("text", "unit", "nanometres"), READS, ids=[case[0] for case in READS])
def test_reads_exactly(text, unit, nanometres):
    """What makers write is read to the nanometre."""
    assert parse_length_nm(text, unit) == nanometres
    assert parse_length(text, unit) == pytest.approx(nanometres / 1e6, abs=5.1e-7)


@pytest.mark.parametrize(("text", "why"), REFUSES, ids=[case[0][:12] for case in REFUSES])
def test_refuses_with_the_reason(text, why):
    """What cannot be read for certain is refused, naming what was typed and why."""
    with pytest.raises(ValueError, match="cannot read") as caught:
        parse_length(text)
    assert why in str(caught.value)
    assert isinstance(caught.value, DriverError)


@pytest.mark.parametrize("wrong", [None, 31.75, b"31.75"])
def test_refuses_what_is_not_text(wrong):
    """A number handed over instead of text is refused, not guessed at."""
    with pytest.raises(LengthError, match="read from text"):
        parse_length(wrong)


def test_refuses_an_unknown_default_unit():
    """The default unit of a length is mm or in."""
    with pytest.raises(LengthError, match="mm or in"):
        parse_length("1", unit="deg")
    with pytest.raises(LengthError, match="must be one of"):
        parse_quantity("1", unit="furlong")
    with pytest.raises(LengthError, match="shown in"):
        format_length(1, unit="deg")
    with pytest.raises(LengthError, match="denominator"):
        format_fraction(1, denominator=0)


def test_quantity_keeps_the_digits_as_typed():
    """Trailing zeros say how fine the instrument was, so they stay."""
    assert str(parse_quantity("1.250 in")[0]) == "1.250"
    assert str(parse_quantity("-31,750")[0]) == "-31.750"
    assert parse_quantity("1 1/64") == (Decimal("1.015625"), "in")


def test_quantity_reads_angles_and_percentages():
    """Angles and percentages are read where they are wanted, and only there."""
    assert parse_quantity("0.2°", "deg") == (Decimal("0.2"), "deg")
    assert parse_quantity("1/2", "deg") == (Decimal("0.5"), "deg")
    assert parse_quantity("7,5", "%") == (Decimal("7.5"), "%")
    with pytest.raises(LengthError, match="a length where an angle"):
        parse_quantity("0.2 mm", "deg")


@given(st.integers(-10_000_000_000, 10_000_000_000), st.sampled_from([".", ","]))
def test_a_decimal_comes_back_exactly(nanometres, point):
    """Six decimals of a millimetre are nanometres, whatever the decimal sign."""
    text = f"{Decimal(nanometres).scaleb(-6):f}".replace(".", point)
    assert parse_length_nm(text) == nanometres
    assert parse_length_nm(format_length(nanometres, places=6)) == nanometres


@given(st.integers(-700, 700), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_a_fraction_comes_back_exactly(top, bottom):
    """Writing a fraction and reading it gives the same length."""
    nanometres = Fraction(top, bottom) * 25_400_000
    assert parse_length_nm(format_fraction(int(nanometres))) == nanometres


def test_a_fraction_that_is_not_exact_says_so():
    """A rounded fraction is never shown as if it were the length."""
    assert format_fraction(32_000_000) == "about 1 17/64 in"
    assert format_fraction(0) == "0 in"


def test_format_shows_the_unit():
    """Every shown length names its unit, and no minus zero."""
    assert format_length(31_750_000) == "31.75 mm"
    assert format_length(31_750_000, "in") == "1.2500 in"
    assert format_length(-4) == "0.00 mm"


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text):
    """No text does anything but give a finite length within 10 m or a LengthError."""
    try:
        value = parse_length(text)
    except LengthError:
        return
    assert abs(value) <= 10_000
