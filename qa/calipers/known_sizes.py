"""Sizes and readings of a check as a person types them, in the unit of the instrument."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from drivers.lengths import parse_quantity
from qa.errors import ShopError

Pair = tuple[Decimal, Decimal]
INCH = Decimal("25.4")


def pairs_of(references: Sequence[str], readings: Sequence[str], unit: str) -> list[Pair]:
    """References and readings as typed, in the instrument's unit; one reference may stand for many readings.

    ShopError where their numbers differ; LengthError for what is no number.
    """
    if len(references) == 1:
        references = list(references) * len(readings)
    if len(references) != len(readings) or not readings:
        raise ShopError(
            f"each --reading needs its --reference, in the same order: got {len(references)} references and "
            f"{len(readings)} readings"
        )
    return [(number(a, unit), number(b, unit)) for a, b in zip(references, readings, strict=True)]


def number(text: str, unit: str) -> Decimal:
    """A size as typed, in the instrument's unit; a length may be given in inches. LengthError for none."""
    value, own = parse_quantity(text, unit)
    return value * INCH if own == "in" else value
