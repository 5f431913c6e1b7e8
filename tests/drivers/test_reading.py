"""Readings and bad records as values."""

from __future__ import annotations

from dataclasses import FrozenInstanceError
from decimal import Decimal

import pytest

from drivers.errors import LengthError
from drivers.reading import Reading


@pytest.mark.parametrize(
    ("value", "unit", "nanometres"),
    [
        ("25.40", "mm", 25_400_000),
        ("1", "in", 25_400_000),
        ("0.0005", "in", 12_700),
        ("-0.00", "mm", 0),
        ("0.0000005", "mm", 0),
        ("0.0000015", "mm", 2),
        ("0.2", "deg", None),
        ("7.5", "%", None),
    ],
)
def test_nanometres(value, unit, nanometres):
    """Lengths are exact in nanometres, half to even beyond; other quantities have none."""
    assert Reading(Decimal(value), unit, b"").nanometres == nanometres


@pytest.mark.parametrize(("value", "unit"), [("NaN", "mm"), ("Infinity", "in"), ("1", "cm")])
def test_refuses_what_is_no_reading(value, unit):
    """A reading is a finite number in one of four units."""
    with pytest.raises(LengthError, match="a reading needs"):
        Reading(Decimal(value), unit, b"")


def test_a_reading_cannot_be_changed():
    """Readings are frozen."""
    with pytest.raises(FrozenInstanceError):
        Reading(Decimal(1), "mm", b"").unit = "in"
