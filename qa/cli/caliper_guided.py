"""A study read as it goes: which place is next, by whose hand, and each reading put down at once."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from qa.errors import ShopError

if TYPE_CHECKING:
    import pandas as pd

    from qa.plans.plan import Part
    from qa.shop import Shop

ONE_PLACE, SEVERAL = 10, 3
"""How often a place is read where nothing is said: ten times where it is the only one. Common practice."""


@dataclass(frozen=True, slots=True)
class Course:
    """What is read in which order: every place by every appraiser, again and again.

    `by_place` has all appraisers at a place before the next, as a light and a firm thumb must be.
    """

    places: tuple[str, ...]
    appraisers: tuple[str, ...]
    trials: int
    species: str = ""
    by_place: bool = False

    def __iter__(self) -> Iterator[tuple[str, str, str]]:
        for trial in range(1, self.trials + 1):
            pairs = [(place, who) for who in self.appraisers for place in self.places]
            if self.by_place:
                pairs = [(place, who) for place in self.places for who in self.appraisers]
            for place, who in pairs:
                yield place, who, str(trial)

    @property
    def a_round(self) -> int:
        """Readings of one trial."""
        return len(self.places) * len(self.appraisers)


def course_of(
    shop: Shop,
    name: str,
    part: str | None = None,
    model: str | None = None,
    appraisers: Sequence[str] | None = None,
    trials: int | None = None,
    compliance: bool = False,
    species: str = "",
) -> Course:
    """What is to be read by the instrument of that name, at one place or at the stations of a part.

    ShopError for an instrument or part not known, or one with nothing to read between the jaws.
    """
    instrument = shop.instrument(name)
    if instrument.quantity != "length":
        raise ShopError(f"{name} measures {instrument.quantity}: a study is of lengths")
    planned = shop.plan(shop.model(model)).part(part) if part else None
    places = _places(planned) if planned else ("the same place",)
    hands = ("light", "firm") if compliance else tuple(dict.fromkeys(appraisers or (name,)))
    often = trials or (ONE_PLACE if len(places) == 1 else SEVERAL)
    return Course(places, hands, often, species or (planned.species if planned else ""), compliance)


def _places(part: Part) -> tuple[str, ...]:
    """The stations of the part's first size."""
    from qa.characteristics import kinds

    for item in part.characteristics.values():
        if kinds()[item.kind].sized and not item.derived:
            return tuple(station.name or item.name for station in item.stations)
    raise ShopError(f"{part.name} has no size to read between the jaws: leave --part out")


Row = tuple[str, str, str, str]


def guided(shop: Shop, name: str, course: Course, file: Path | None, typed: bool) -> pd.DataFrame:
    """The readings of a course as a table, each put into `file` before the next is asked for.

    An empty line ends it, and then only whole rounds count. ShopError where `file` is there already.
    """
    import pandas as pd

    from qa.cli.caliper_asking import reader

    rows: list[Row] = []
    total = course.a_round * course.trials
    with reader(shop, shop.instrument(name), typed, "nothing to end") as read:
        typer.echo("Take the jaws off and set them anew for each reading.")
        if file is not None:
            _put(file, ("part", "appraiser", "trial", "value", "species"), "x")
        for place, who, trial in course:
            shown = read(f"{place}, {who} ({len(rows) + 1} of {total})")
            if shown is None:
                break
            rows.append((place, who, trial, str(shown)))
            if file is not None:
                _put(file, (*rows[-1], course.species), "a")
    whole = rows[: len(rows) - len(rows) % course.a_round]
    frame = pd.DataFrame(whole, columns=["part", "appraiser", "trial", "value"])
    return frame.assign(value=frame["value"].astype(float), species=course.species)


def _put(file: Path, cells: Sequence[str], mode: str) -> None:
    try:
        with file.open(mode, encoding="utf-8", newline="") as out:
            csv.writer(out).writerow(cells)
            out.flush()
            os.fsync(out.fileno())
    except FileExistsError as error:
        raise ShopError(f"{file} is there already: name a new file for the readings to come") from error
    except OSError as error:
        raise ShopError(f"{file} cannot be written: {error.strerror}") from error
