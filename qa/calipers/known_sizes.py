"""Sizes and readings of a check as a person types them, in the unit of the instrument."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from drivers.lengths import parse_quantity
from qa.errors import ShopError

Pair = tuple[Decimal, Decimal]
INCH = Decimal("25.4")


def pairs_of(references: Sequence[str], readings: Sequence[str], unit: str) -> list[Pair]:
    """References and readings in the instrument's unit, typed in `unit`; one reference may stand for many.

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


def typed_unit(unit: str, shop_unit: str) -> str:
    """The unit of a bare number for an instrument of a unit: of a length the shop's, as at the bench."""
    return shop_unit if unit == "mm" else unit


def number(text: str, unit: str) -> Decimal:
    """A size typed in `unit`, a length in millimetres whatever unit it was typed in; LengthError for none."""
    value, own = parse_quantity(text, unit)
    return value * INCH if own == "in" else value
