"""What a column of a builder's sheet holds: said in words, and proposed from its name."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from qa.errors import ShopError
from qa.logs.piece import COLUMNS
from qa.logs.sheets.names import PLACE, PlanNames, plain
from qa.logs.sheets.units import is_quantity, unit_of, without_unit

LEAVE = "leave"
VALUE = "value"
TIME = "time"
HOLDS = (*COLUMNS, TIME, LEAVE)
"""What a column may hold: a column of the log, the time of day beside a date, or nothing that is read."""
FIXED = (*PLACE, "unit")
"""What a column of readings may fix for all of them."""
SYNONYMS: dict[str, tuple[str, ...]] = {
    "taken_at": ("date", "date measured", "measured on", "measured at", "date taken", "taken", "taken on",
                 "day", "when", "date and time", "date/time", "timestamp"),
    "time": ("time", "time of day", "hour"),
    "build": ("build no", "build number", "instrument no", "instrument number", "serial", "serial no",
              "serial number", "guitar", "guitar no", "ukulele", "mandolin", "dulcimer", "job", "job no"),
    "part": ("piece", "component", "part name"),
    "characteristic": ("dimension", "feature", "what", "what was measured"),
    "station": ("position", "location", "place", "point", "spot", "where"),
    "value": ("reading", "size", "measured", "measured value", "measurement", "actual", "result", "thickness",
              "width", "length", "height", "thk"),
    "unit": ("units",),
    "instrument": ("caliper", "calipers", "gauge", "gage", "micrometer", "measured with",
                   "measuring instrument"),
    "bench": ("workbench", "bench name"),
    "machine": ("machine used", "cut on", "tool"),
    "rh_percent": ("rh", "rh %", "humidity", "humidity %", "relative humidity"),
    "temp_c": ("temp c", "temp °c", "temp (c)", "temperature c", "temperature °c", "temperature (c)"),
    "note": ("notes", "remark", "remarks", "comment", "comments"),
}  # fmt: skip
"""The trade's plain words for the columns of the log (common practice, no source)."""
_BY_NAME = {plain(word): column for column, words in SYNONYMS.items() for word in words}
_OWN = {plain(column): column for column in COLUMNS}


@dataclass(frozen=True, slots=True)
class Meaning:
    """What one column holds, one of `HOLDS`; for readings also what is fixed for all of them, by `FIXED`."""

    holds: str
    fixed: Mapping[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        return ", ".join([self.holds, *(f"{name} {text}" for name, text in self.fixed.items())])

    def clashes(self, other: Meaning) -> bool:
        """Whether two columns cannot both hold this: readings may differ in what they are of."""
        place = [{name: m.fixed.get(name) for name in PLACE} for m in (self, other)]
        return self.holds == other.holds != LEAVE and place[0] == place[1]


@dataclass(frozen=True, slots=True)
class Guess:
    """What a column's name makes of it, and whether that is certain; no meaning where it is not known."""

    meaning: Meaning | None
    certain: bool
    why: str


def read_meaning(text: str, names: PlanNames) -> Meaning:
    """A meaning from words: "build", "leave", "value, station top-left, unit in"; or names of the plan.

    ShopError says why not.
    """
    of_plan = names.headings.get(plain(text), ())
    if len(of_plan) == 1 and plain(text) not in _OWN:
        return Meaning(VALUE, of_plan[0])
    fixed: dict[str, str] = {}
    holds, *more = re.split(rf",\s*(?=(?:{'|'.join(FIXED)})(?:\s|$))", text.strip())
    holds = _OWN.get(plain(holds), holds.strip().casefold())
    if holds not in HOLDS:
        if of_plan:
            raise ShopError(f"{text!r} may be a {_ways(of_plan)} of the plan: write 'value, station NAME'")
        first = next((f", or a name of the plan such as {p.station or p.part!r}" for p in names.places), "")
        raise ShopError(f"{text!r} is none of: {', '.join(HOLDS)}{first}")
    if more and holds != VALUE:
        raise ShopError(f"only a value is of a {', '.join(FIXED[:-1])} or in a unit, not {holds!r}")
    for words in more:
        name, _, what = words.partition(" ")
        as_kept, why = checked(name, what.strip(), names)
        if why or name in fixed:
            raise ShopError(why or f"{text!r} says {name} twice")
        fixed[name] = as_kept
    return Meaning(holds, fixed)


def checked(name: str, text: str, names: PlanNames) -> tuple[str, str]:
    """What a column of the log is given as, and "", or why it cannot be that."""
    if name in PLACE:
        return names.checked(name, text)
    if name == "unit":
        unit = unit_of(text)
        return (unit, "") if unit else (text, f"{text!r} is not a unit; write mm, in, deg or %")
    return text, ""


def guess(name: str, cells: Sequence[str], names: PlanNames, instruments: Sequence[str] = ()) -> Guess:
    """What the column of that name and those cells holds.

    Certain: the log's own names, and names of the plan, with a unit or without. A word of `SYNONYMS` is a
    proposal, and so are cells that are all instruments of the shop or names of the plan. A column of no
    known name that holds neither those nor a number is proposed to be left.
    """
    own = _OWN.get(plain(name))
    if own == "instrument":
        return _instrument_or_build(cells, instruments)
    if own:
        return Guess(Meaning(own), True, "the log's own name")
    for base, unit in dict.fromkeys(((name, ""), without_unit(name))):
        from_name = _from_name(plain(base).rstrip(".:# "), unit, names)
        if from_name:
            return from_name
    return _from_cells(cells, names, instruments)


def in_unit_of(name: str, meaning: Meaning) -> Meaning:
    """A meaning of readings that says no unit, in the unit that the column's name says."""
    unit = without_unit(name)[1]
    if meaning.holds != VALUE or not unit or "unit" in meaning.fixed:
        return meaning
    return replace(meaning, fixed={**meaning.fixed, "unit": unit})


def _ways(of_plan: Sequence[Mapping[str, str]]) -> str:
    return " or ".join(" ".join(way) for way in of_plan)


def _from_name(base: str, unit: str, names: PlanNames) -> Guess | None:
    fixed = {"unit": unit} if unit else {}
    of_plan = names.headings.get(base, ())
    if len(of_plan) == 1:
        return Guess(Meaning(VALUE, {**of_plan[0], **fixed}), True, "a name of the plan")
    if of_plan:
        return Guess(None, False, f"may be a {_ways(of_plan)} of the plan")
    if base in names.computed:
        return Guess(Meaning(LEAVE), True, "is computed from readings, not read")
    column = _OWN.get(base) or _BY_NAME.get(base)
    if column is None or (unit and column not in (VALUE, "rh_percent")):
        return None
    return Guess(Meaning(column, fixed if column == VALUE else {}), base in _OWN, "the trade's word for it")


def _from_cells(cells: Sequence[str], names: PlanNames, instruments: Sequence[str]) -> Guess:
    if any(map(is_quantity, cells)):
        return Guess(None, False, "not known")
    if cells and set(cells) <= set(instruments):
        return Guess(Meaning("instrument"), False, "it holds instruments of the shop")
    named = {kind: [names.match(kind, cell) is not None for cell in cells] for kind in PLACE}
    kinds = [kind for kind, matches in named.items() if any(matches)]
    if len(kinds) == 1 and all(named[kinds[0]]):
        return Guess(Meaning(kinds[0]), False, "it holds names of the plan")
    if kinds:
        return Guess(None, False, "not known, but some of it is a name of the plan")
    return Guess(Meaning(LEAVE), False, "not known, and no numbers in it")


def _instrument_or_build(cells: Sequence[str], instruments: Sequence[str]) -> Guess:
    """To a maker an instrument is what is built; the log means the one that measures."""
    if cells and set(cells) <= set(instruments):
        return Guess(Meaning("instrument"), True, "instruments of the shop")
    return Guess(None, False, "is it the build, or the instrument that measured?")


def is_known(name: str, names: PlanNames) -> bool:
    """Whether a text is the name of a column that needs no asking."""
    guessed = guess(name, ["1"], names)
    return guessed.meaning is not None or plain(name) in names.headings or plain(name) == "instrument"
