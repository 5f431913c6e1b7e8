"""Instruments of the shop and what each makes uncertain in a reading."""

from __future__ import annotations

from dataclasses import dataclass

from qa.uncertainty import Contribution, ReadingBudget, rectangular, resolution


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument as shop.toml describes it; lengths in millimetres.

    `repeatability` is a standard deviation. `url` is any serial URL, None where readings are typed.
    """

    id: str
    profile: str = "text-line"
    url: str | None = None
    resolution: float = 0.01
    max_permissible_error: float = 0.03
    repeatability: float = 0.01
    check_every_days: int | None = None


TYPED = Instrument("")
"""A reading that names no instrument: judged as by a digital caliper of the commonest sort.

Step 0.01 and limits of error of 0.03 mm: common practice, no source.
"""


def budget(instrument: Instrument) -> ReadingBudget:
    """What makes one reading of an instrument uncertain, in millimetres.

    The display step and the repeatability are each reading's own. The permissible error is taken as one error
    common to all readings of that instrument: over the sizes of one part it is chiefly zero offset, so it
    cancels in a difference (JCGM 100:2008, 4.3.7, 5.2.2 and F.2.2.1).
    """
    name = instrument.id or "an instrument not named"
    limit = rectangular(instrument.max_permissible_error)
    return ReadingBudget(
        own=(
            Contribution(resolution(instrument.resolution), name="display step"),
            Contribution(instrument.repeatability, name="repeatability"),
        ),
        shared={f"permissible error of {name}": Contribution(limit)},
    )
