"""What a plan asks of two parts that must fit each other, in words."""

from __future__ import annotations

from collections.abc import Mapping

from drivers.lengths import format_length
from qa.plans.planned import Mate, Part

BY_MEANS = "by the mean of each size, as their stations have not the same names"


def say_mate(mate: Mate, part: Part, parts: Mapping[str, Part], unit: str) -> str:
    """The gap a plan holds a mate of a part to, in `unit` ("mm", "in"), and where it is judged."""
    low, high = (format_length(edge, unit) for edge in (mate.lower, mate.upper))
    where = ", at each station" if part.meets_at(mate, parts) else ""
    if by_means(mate, part, parts):
        where = f", {BY_MEANS}"
    return f"{mate.name}: the gap of {mate.size} to {mate.part} {mate.size_of} is {low} to {high}{where}"


def by_means(mate: Mate, part: Part, parts: Mapping[str, Part]) -> bool:
    """Whether the gap of a mate is judged by means alone, though a size has several stations."""
    sizes = part.characteristics[mate.size], parts[mate.part].characteristics[mate.size_of]
    return not part.meets_at(mate, parts) and max(len(size.stations) for size in sizes) > 1
