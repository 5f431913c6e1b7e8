"""What a plan says, as values: parts, characteristics, mates, the reference climate."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from qa.characteristics.base import Characteristic, Station
from qa.characteristics.fields import EnteredLength
from qa.errors import ShopError
from qa.wording import shortened

DIRECTIONS = ("radial", "tangential", "longitudinal")


@dataclass(frozen=True, slots=True)
class Reference:
    """The climate a plan's sizes hold at, the climate it may be glued in, and how long a reading holds.

    Relative humidity in per cent, degrees Celsius, hours.
    """

    rh_percent: float = 45.0
    temp_c: float = 20.0
    glue_rh_percent: tuple[float, float] = (40.0, 50.0)
    reading_life_hours: float = 48.0


@dataclass(frozen=True, slots=True)
class Mate:
    """Two sizes that must fit each other: a gap of `size_of` less `size`, between inclusive limits.

    `size` is a characteristic of this part, `size_of` one of the part `part`; limits in nanometres.
    """

    name: str
    size: str
    part: str
    size_of: str
    lower: int
    upper: int


@dataclass(frozen=True, slots=True)
class BlankSize:
    """How much larger than finished one size of a blank is cut.

    `finished`, `wedge`, `trimming` and `kerf` (of one of `cuts`) in nanometres. `dome_from` is the nearest
    and farthest distance of the part from the middle of a dome of `dome_radius`, in millimetres. `grain` is
    the direction of the wood along the size; `moves_from_rh` the humidity the blank is cut at, None where no
    movement is allowed for, `moves_to_rh` that of the finished part, None for the plan's reference.
    """

    name: str
    finished: int
    dome_radius: float | None = None
    dome_from: tuple[float, float] | None = None
    wedge: int = 0
    trimming: int = 0
    kerf: int = 0
    cuts: int = 1
    grain: str = ""
    moves_from_rh: float | None = None
    moves_to_rh: float | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """One planned part. `grain` names the direction of the wood along each size.

    `jaw_give` is how far either way the jaws of a caliper may move a reading of this wood, in millimetres.
    """

    name: str
    title: str
    species: str
    grain: Mapping[str, str]
    characteristics: Mapping[str, Characteristic]
    jaw_give: float = 0.0
    mates: tuple[Mate, ...] = ()
    blanks: tuple[BlankSize, ...] = ()

    def source(self, characteristic: Characteristic) -> Characteristic:
        """The characteristic whose readings are behind one: itself, or the size it is of."""
        return self.characteristics[characteristic.of] if characteristic.of else characteristic

    def stations(self, characteristic: Characteristic) -> tuple[Station, ...]:
        """Where the readings behind a characteristic are taken."""
        return self.source(characteristic).stations

    def meaning(self, characteristic: str, station: str) -> tuple[object, ...] | None:
        """What a reading there tells: of which kind, how and where it is read; None where none is asked."""
        item = self.characteristics.get(characteristic)
        places = [one for one in item.stations if one.name == station] if item else []
        return (item.kind, item.unit, item.read_by, *places) if item and places else None

    def meets_at(self, mate: Mate, parts: Mapping[str, Part]) -> tuple[str, ...]:
        """The stations at which both sizes of a mate are read; none where they have one, or other names."""
        own, other = self.characteristics[mate.size], parts[mate.part].characteristics[mate.size_of]
        names = tuple(station.name for station in own.stations)
        same = len(names) > 1 and {*names} == {station.name for station in other.stations}
        return names if same else ()

    def to_read(self) -> Iterable[tuple[Characteristic, Station]]:
        """Every reading the part needs, in the order of the plan."""
        for characteristic in self.characteristics.values():
            if not characteristic.derived:
                for station in characteristic.stations:
                    yield characteristic, station


@dataclass(frozen=True, slots=True)
class Plan:
    """One revision of the plan of one model. It holds for builds begun on `since` or later.

    `digest` names the revision: the SHA-256 of the file's text.
    """

    name: str
    model: str
    unit: str
    since: dt.date | None
    reference: Reference
    parts: Mapping[str, Part]
    text: str = field(repr=False)
    digest: str
    lengths: tuple[EnteredLength, ...] = field(repr=False, default=())

    def part(self, name: str) -> Part:
        """The part by name; ShopError names the near ones."""
        if name in self.parts:
            return self.parts[name]
        raise ShopError(unknown("part", name, self.parts))


def unknown(what: str, name: str, known: Iterable[str]) -> str:
    """Words for a name that is not known, with the near ones or all of them."""
    names, told = list(known), shortened(name)
    near = difflib.get_close_matches(name, names, 3) or names
    if not near:
        return f"no {what} is called {told!r}: there are none yet"
    return f"no {what} is called {told!r}; known: {', '.join(near[:12])}{' ...' if len(near) > 12 else ''}"
