"""Instruments of the shop and what each makes uncertain in a reading."""

from __future__ import annotations

from dataclasses import dataclass

from qa.errors import CannotSay
from qa.uncertainty import Contribution, ReadingBudget, rectangular, resolution


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument as shop.toml describes it.

    `quantity` is what it measures: "length", "percent" or "angle". `resolution`, `max_permissible_error` and
    `repeatability` (a standard deviation) are in the unit of that: millimetres, per cent, degrees. `url` is
    any serial URL, None where readings are typed.
    """

    id: str
    profile: str = "text-line"
    url: str | None = None
    resolution: float = 0.01
    max_permissible_error: float = 0.03
    repeatability: float = 0.01
    check_every_days: int | None = None
    quantity: str = "length"


UNITS = {"length": "mm", "percent": "%", "angle": "deg"}
"""The unit of each quantity an instrument may measure."""

TYPED = Instrument("")
"""A reading that names no instrument: judged as by a digital caliper of the commonest sort.

Step 0.01 and limits of error of 0.03 mm: common practice, no source.
"""

USUAL = {
    "length": TYPED,
    "percent": Instrument(
        "", quantity="percent", resolution=0.1, max_permissible_error=1.0, repeatability=0.3
    ),
    "angle": Instrument("", quantity="angle", resolution=0.1, max_permissible_error=0.2, repeatability=0.1),
}
"""What stands for an instrument not described, by quantity: a moisture meter within 1 per cent, a protractor
within 0.2 degrees. Common practice, no source."""


def suited(instrument: Instrument, unit: str) -> Instrument:
    """The instrument where it measures in `unit`, or the usual one where the reading names none.

    CannotSay where the instrument named measures something else.
    """
    if UNITS[instrument.quantity] == unit:
        return instrument
    if not instrument.id:
        return next(usual for quantity, usual in USUAL.items() if UNITS[quantity] == unit)
    raise CannotSay(
        f"read by {instrument.id}, which measures {instrument.quantity} in {UNITS[instrument.quantity]}, "
        f"not {unit}; read it with another, or give {instrument.id} its quantity in shop.toml"
    )


def budget(instrument: Instrument, species: str = "", jaw_give: float = 0.0) -> ReadingBudget:
    """What makes one reading of an instrument uncertain, in the unit of what it measures.

    The display step and the repeatability are each reading's own. The permissible error is taken as one error
    common to all readings of that instrument: over the sizes of one part it is chiefly zero offset, so it
    cancels in a difference (JCGM 100:2008, 4.3.7, 5.2.2 and F.2.2.1). So does `jaw_give`, how far either way
    (mm) the force of the thumb may move a reading of soft wood, taken as one habit of hand over a part.
    """
    name = instrument.id or "an instrument not named"
    shared = {f"permissible error of {name}": Contribution(rectangular(instrument.max_permissible_error))}
    if jaw_give:
        shared[f"jaws on {species or 'wood'}"] = Contribution(rectangular(jaw_give))
    return ReadingBudget(
        own=(
            Contribution(resolution(instrument.resolution), name="display step"),
            Contribution(instrument.repeatability, name="repeatability"),
        ),
        shared=shared,
    )
