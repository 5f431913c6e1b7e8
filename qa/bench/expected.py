"""What a reading is expected to be, kind by kind, so that a slip of unit or of decimal place shows."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic, in_units
from qa.geometry import sagitta


@dataclass(frozen=True, slots=True)
class Expected:
    """What may be read at a place, in the unit of its characteristic; None where the plan does not tell.

    `near` is about what is read there, and `named` says what that is. `lower` and `upper` are the limits of
    the reading itself, inclusive. `sized` says that a size is read between the jaws, which is never zero.
    """

    near: float | None = None
    named: str = "its target"
    lower: float | None = None
    upper: float | None = None
    sized: bool = False

    @property
    def width(self) -> float | None:
        """How wide the tolerance of the reading is."""
        return None if self.lower is None or self.upper is None else self.upper - self.lower

    def within(self, value: float) -> bool:
        """Whether a reading is in tolerance; with no upper limit, never: it may be a slip upwards."""
        return self.upper is not None and (self.lower or -self.upper) <= value <= self.upper


def expected(item: Characteristic) -> Expected:
    """What may be read for a characteristic at any of its stations."""
    own = _OWN.get(item.kind)
    if own is not None:
        return own(item)
    kind = kinds()[item.kind]
    if kind.reads(item, str):  # what is read is not what is judged, and could be anything
        return Expected()
    return replace(_of_limits(item), sized=kind.sized)


def _of_limits(item: Characteristic) -> Expected:
    """The target, else the middle of the limits, else the one limit there is."""
    target, lower, upper = map(in_units, (item.target, item.lower, item.upper))
    if target is not None:
        return Expected(target, "its target", lower, upper)
    if lower is not None and upper is not None:
        return Expected((lower + upper) / 2, "the middle of its limits", lower, upper)
    return Expected(upper if lower is None else lower, "its limit", lower, upper)


def _at_most(item: Characteristic, scale: float = 1.0) -> Expected:
    return Expected(upper=(item.upper or 0) / MILLION * scale)


def _straight(item: Characteristic) -> Expected:
    """Leaves under an edge; heights are above any reference, so nothing is known of them."""
    return _at_most(item) if item.options["method"] == "feeler" else Expected()


def _square(item: Characteristic) -> Expected:
    if item.options["method"] == "feeler":
        return _at_most(item, item.number("blade_length") / item.number("over"))
    diagonal = math.hypot(item.number("width"), item.number("length"))
    return Expected(diagonal, "the diagonal where it is square")


def _radius(item: Characteristic) -> Expected:
    return Expected(sagitta(item.number("radius"), item.number("chord")), "the sagitta that meets the mould")


_OWN: dict[str, Callable[[Characteristic], Expected]] = {
    "gap": _at_most,
    "bevel": _at_most,
    "flatness": _straight,
    "straightness": _straight,
    "squareness": _square,
    "radius": _radius,
}
"""Kinds whose readings are not the judged value itself, or as good as zero."""
