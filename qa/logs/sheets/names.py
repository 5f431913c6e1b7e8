"""The names of a plan, and how a builder writes them: matched only where case, spaces and hyphens differ."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import permutations

from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic
from qa.plans.plan import Plan, unknown

PLACE = ("part", "characteristic", "station")
"""The columns of a log that say together what was read."""
PlaceSoFar = Mapping[str, str | None]
"""A place as far as it is known: for each of `PLACE` a name, "" for no station, or None."""


def plain(text: str) -> str:
    """A name as it is compared: capitals, spaces, hyphens and underscores make no difference."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    return re.sub(r"[\s_\-\u2010-\u2015]+", " ", unicodedata.normalize("NFKC", folded)).strip()


@dataclass(frozen=True, slots=True)
class Place:
    """What a plan asks to be read: names, the unit, and a size's limits in millimetres (None for others)."""

    part: str
    characteristic: str
    station: str
    unit: str
    limits: tuple[float, float] | None

    def agrees(self, place_so_far: PlaceSoFar) -> bool:
        """Whether it is the same in all that is known of a place."""
        return all(place_so_far[name] in (None, getattr(self, name)) for name in PLACE)


@dataclass(frozen=True, slots=True)
class PlanNames:
    """The places of some plans, and their names by how they are written.

    `spelled` are the names of each of `PLACE` by their plain form; `headings` what a column's name may say of
    a place, by its plain form; `computed` the plain names of characteristics that are not read.
    """

    places: tuple[Place, ...]
    spelled: Mapping[str, Mapping[str, frozenset[str]]]
    headings: Mapping[str, tuple[Mapping[str, str], ...]]
    computed: frozenset[str]
    _agreeing: dict[tuple[str | None, ...], tuple[Place, ...]] = field(default_factory=dict)

    def match(self, kind: str, text: str) -> str | None:
        """The plan's name of a part, characteristic or station that is written so; None where not certain."""
        names = self.spelled[kind].get(plain(text), frozenset())
        if text in names:
            return text
        return next(iter(names)) if len(names) == 1 else None

    def named(self, kind: str) -> list[str]:
        """Every name of a part, characteristic or station, in the order of the plan."""
        return [name for name in dict.fromkeys(getattr(place, kind) for place in self.places) if name]

    def checked(self, kind: str, text: str) -> tuple[str, str]:
        """The plan's name of a text and "", or the text and why there is none."""
        name = self.match(kind, text)
        return (name, "") if name is not None else (text, unknown(kind, text, self.named(kind)))

    def agreeing(self, place_so_far: PlaceSoFar) -> tuple[Place, ...]:
        """Every place that agrees with what is known of one."""
        key = tuple(place_so_far[name] for name in PLACE)
        if key not in self._agreeing:
            self._agreeing[key] = tuple(place for place in self.places if place.agrees(place_so_far))
        return self._agreeing[key]


def plan_names(plans: Iterable[Plan]) -> PlanNames:
    """The names of some plans, revisions of one or of several models; the newest last."""
    places: dict[tuple[str, ...], Place] = {}
    spelled: dict[str, dict[str, set[str]]] = {name: {} for name in PLACE}
    headings: dict[str, list[Mapping[str, str]]] = {}
    computed = set()
    for plan in plans:
        for part in plan.parts.values():
            computed |= {plain(item.name) for item in part.characteristics.values() if item.derived}
            for characteristic, station in part.to_read():
                names = (part.name, characteristic.name, station.name)
                places[names] = Place(*names, characteristic.unit, _limits(characteristic))
                for kind, name in (*zip(PLACE, names, strict=True), ("part", part.title)):
                    spelled[kind].setdefault(plain(name), set()).add(part.name if kind == "part" else name)
                for heading, named in _headings(dict(zip(PLACE, names, strict=True)), part.title):
                    if named not in headings.setdefault(heading, []):
                        headings[heading].append(named)
    computed -= set(spelled["characteristic"])
    return PlanNames(
        tuple(places.values()),
        {kind: {text: frozenset(names) for text, names in table.items()} for kind, table in spelled.items()},
        {heading: tuple(named) for heading, named in headings.items()},
        frozenset(computed),
    )


def _limits(item: Characteristic) -> tuple[float, float] | None:
    """The limits of a size in millimetres; None of anything else, or where there is but one."""
    if not kinds()[item.kind].sized or item.lower is None or item.upper is None:
        return None
    return item.lower / MILLION, item.upper / MILLION


def _headings(names: Mapping[str, str], title: str) -> Iterator[tuple[str, Mapping[str, str]]]:
    """Every way a column's name may name a place, or some of it: its names in any order."""
    kinds_there = [kind for kind in PLACE if names[kind]]
    for count in range(1, len(kinds_there) + 1):
        for chosen in permutations(kinds_there, count):
            named = {kind: names[kind] for kind in PLACE if kind in chosen}
            yield plain(" ".join(names[kind] for kind in chosen)), named
            if "part" in chosen:
                yield plain(" ".join(title if kind == "part" else names[kind] for kind in chosen)), named
