"""What a plan asks of two parts that must fit each other, in words."""

from __future__ import annotations

from drivers.lengths import format_length
from qa.plans.planned import Mate


def say_mate(mate: Mate, unit: str) -> str:
    """The gap a plan holds a mate to, in `unit` ("mm", "in")."""
    low, high = (format_length(edge, unit) for edge in (mate.lower, mate.upper))
    return f"{mate.name}: the gap of {mate.size} to {mate.part} {mate.size_of} is {low} to {high}"
