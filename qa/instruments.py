"""Instruments of the shop and what each makes uncertain in a reading."""

from __future__ import annotations

import contextlib
import math
from bisect import bisect_left
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from qa.errors import CannotSay
from qa.uncertainty import Contribution, ReadingBudget, rectangular, resolution

if TYPE_CHECKING:
    from qa.calipers.bias import Bias

ENOUGH_REPEATS = 4
"""Degrees of freedom from which the scatter of repeated readings is used instead of an assumed one.

With fewer, Student's factor of a two-sided 95 % is above 3. Chosen here, no source."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What an instrument's checks say of its readings up to and including the moment `until` (ISO 8601, UTC).

    `verified` is the bias a good check found, in force then; `off` the one a failed check found, by which
    the readings were wrong, and `why` says which. Errors are common to stretches of the same `epoch`, the
    time from one adjustment to the next.
    """

    until: str
    epoch: str = ""
    verified: Bias | None = None
    off: Bias | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Studied:
    """The repeatability a study found: a standard deviation, its degrees of freedom, and on which wood.

    `species` is "" where the study named none; `at` is when it was kept (ISO 8601, UTC), "" for no study.
    """

    repeatability: float
    dof: float = math.inf
    species: str = ""
    at: str = ""


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument as shop.toml describes it, and what its checks and studies have shown since.

    `quantity` is what it measures: "length", "percent" or "angle". `resolution`, `max_permissible_error` and
    `repeatability` (a standard deviation) are in the unit of that: millimetres, per cent, degrees. `url` is
    any serial URL, None where readings are typed. `span` is the least and greatest it can read; `correction`
    is added to what a hygrometer or meter shows. `repeatability_dof` is finite where a study found the
    repeatability. `history` holds stretches oldest first, the last without end; `studies` the last study
    of each wood.
    """

    id: str
    profile: str = "text-line"
    url: str | None = None
    resolution: float = 0.01
    max_permissible_error: float = 0.03
    repeatability: float = 0.01
    check_every_days: int | None = None
    quantity: str = "length"
    span: tuple[float, float] | None = None
    correction: float = 0.0
    repeatability_dof: float = math.inf
    history: tuple[Stretch, ...] = ()
    studies: tuple[Studied, ...] = ()

    @property
    def unit(self) -> str:
        """The unit of what it measures."""
        return UNITS[self.quantity]

    def stretch(self, at: str) -> Stretch | None:
        """What its checks say of a reading taken `at` a moment; None where it was never checked."""
        if not self.history or not at:
            return None
        return self.history[min(bisect_left(self.history, at, key=_until), len(self.history) - 1)]

    def studied(self, species: str = "") -> Studied:
        """How well it repeats on a wood: by its study there, else by the one that named no wood.

        Else by the largest known of it, of its other studies and shop.toml: soft wood gives under the jaws,
        so that a study on hard wood must not flatter a reading of soft. Nor may a study of few readings: it
        counts only where it found no less than is known otherwise.
        """
        described = Studied(self.repeatability, self.repeatability_dof)
        if not self.studies:
            return described
        by_wood = {_wood(item.species): item for item in self.studies}
        found = by_wood.get(_wood(species)) or by_wood.get("")
        if found is not None and found.dof >= ENOUGH_REPEATS:
            return found
        known = self.studies if found is None else (found,)
        return max((*known, described), key=lambda item: item.repeatability)

    def on(self, species: str) -> Instrument:
        """The instrument as it repeats on a wood."""
        if not self.studies:
            return self
        found = self.studied(species)
        return replace(self, repeatability=found.repeatability, repeatability_dof=found.dof)


@lru_cache(maxsize=1000)
def _wood(name: str) -> str:
    """A wood however it is spelled; one that goes by several names by its own."""
    from qa.wood import plain_name, species

    if not name:
        return ""
    with contextlib.suppress(CannotSay):
        name = species(name).name
    return plain_name(name)


def same_wood(one: str, other: str) -> bool:
    """Whether two names are of one wood: "Sitka spruce" and "sitka-spruce", "cherry" and "black cherry"."""
    return _wood(one) == _wood(other)


def _until(stretch: Stretch) -> str:
    return stretch.until


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


def suited(instrument: Instrument, unit: str, named: str = "") -> Instrument:
    """The instrument where it measures in `unit`, or the usual one where the shop describes none.

    A usual one goes by the name that the reading has for it, so that two of them share no error. CannotSay
    where the instrument described measures something else.
    """
    if not instrument.id:
        usual = next(usual for quantity, usual in USUAL.items() if UNITS[quantity] == unit)
        return replace(usual, id=named) if named else usual
    if UNITS[instrument.quantity] == unit:
        return instrument
    raise CannotSay(
        f"read by {instrument.id}, which measures {instrument.quantity} in {UNITS[instrument.quantity]}, "
        f"not {unit}; read it with another, or give {instrument.id} its quantity in shop.toml"
    )


def budget(
    instrument: Instrument, species: str = "", jaw_give: float = 0.0, at: str = "", size: float | None = None
) -> ReadingBudget:
    """What makes one reading of an instrument uncertain, in the unit of what it measures.

    The display step and the repeatability are each reading's own. The permissible error is taken as one error
    common to all readings of that instrument: over the sizes of one part it is chiefly zero offset, so it
    cancels in a difference (JCGM 100:2008, 4.3.7, 5.2.2 and F.2.2.1). So does `jaw_give`, how far either way
    (mm) the force of the thumb may move a reading of soft wood, taken as one habit of hand over a part.

    Where a good check in force at the moment `at` (ISO 8601, UTC) covers the `size`, what it found stands in
    place of the permissible error. Readings are never corrected: a bias b known to u(b), small enough to
    pass, counts as an error of square b² + u²(b) (JCGM 100:2008, F.2.4.5).

    The repeatability is that of `Instrument.studied` on the species, and its line says on which wood it was
    found.
    """
    repeats = instrument.studied(species)
    cause, systematic = _systematic(instrument, at, size)
    shared = {cause: systematic}
    if jaw_give:
        shared[f"jaws on {species or 'wood'}"] = Contribution(rectangular(jaw_give))
    return ReadingBudget(
        own=(
            Contribution(resolution(instrument.resolution), name="display step"),
            Contribution(repeats.repeatability, repeats.dof, name=_repeats_on(repeats, species)),
        ),
        shared=shared,
    )


def _repeats_on(found: Studied, species: str) -> str:
    if not found.species:
        return "repeatability"
    other = "" if same_wood(found.species, species) else ", the largest known"
    return f"repeatability on {found.species}{other}"


def _systematic(instrument: Instrument, at: str, size: float | None) -> tuple[str, Contribution]:
    name = instrument.id or "an instrument not named"
    stretch = instrument.stretch(at)
    permissible = Contribution(rectangular(instrument.max_permissible_error))
    if stretch is None:
        return f"permissible error of {name}", permissible
    cause = f"bias of {name}{f' as set on {stretch.epoch}' if stretch.epoch else ''}"
    if stretch.verified is None or size is None or not stretch.verified.covers(size):
        return cause, permissible
    error, u = stretch.verified.at(size)
    return cause, Contribution(math.hypot(error, u), stretch.verified.dof)
