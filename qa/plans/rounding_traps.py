"""Finds where a plan mixes an inch length with the whole millimetres it is loosely called."""

from __future__ import annotations

from collections.abc import Iterable

from qa.characteristics.base import MILLION
from qa.characteristics.fields import EnteredLength
from qa.plans.plan import Plan


def traps(plan: Plan) -> list[str]:
    """Rounding traps: an inch length beside the whole millimetres it is loosely called, in one plan.

    Named where the difference eats more than a quarter of the tolerance of either characteristic (common
    practice, no source: 1 1/4 in is called 32, 3/4 in 19, 2 3/4 in 70, 3 in 76, 4 1/4 in 108).
    """
    tolerances = dict(_tolerances(plan))
    inches = [length for length in plan.lengths if length.unit == "in"]
    metric = [length for length in plan.lengths if length.unit == "mm"]
    found: dict[tuple[int, int], str] = {}
    for inch in inches:
        for mm in metric:
            gap = abs(inch.nanometres - mm.nanometres)
            room = min((tolerances[k.key] for k in (inch, mm) if k.key in tolerances), default=None)
            if room and _called(inch.nanometres) == mm.nanometres and 4 * gap > room:
                found.setdefault((inch.nanometres, mm.nanometres), _trap(inch, mm, gap, room))
    return list(found.values())


def _called(nanometres: int) -> int:
    return round(nanometres / MILLION) * MILLION


def _tolerances(plan: Plan) -> Iterable[tuple[str, int]]:
    """Half the room between the limits, in nanometres, by the key of every length of a characteristic."""
    for part in plan.parts.values():
        for item in part.characteristics.values():
            if item.lower is None or item.upper is None:
                continue
            prefix = f"parts.{part.name}.characteristics.{item.name}."
            for length in plan.lengths:
                if length.key.startswith(prefix):
                    yield length.key, (item.upper - item.lower) // 2


def _trap(inch: EnteredLength, mm: EnteredLength, gap: int, room: int) -> str:
    exact, called = inch.nanometres / MILLION, mm.nanometres / MILLION
    return (
        f"{inch.key} is {inch.text} ({exact:g} mm) and {mm.key} is {called:g} mm: "
        f"they differ by {gap / MILLION:g} mm, {100 * gap / room:.0f} % of the tolerance of "
        f"{room / MILLION:g} mm; write both from one and the same size"
    )
