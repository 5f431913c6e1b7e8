"""The columns of every table that is exported, declared once: what is written, and the page that explains it.

Each table is a dataclass; a field's type is the column's, its metadata the unit and the meaning.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any, get_type_hints

from qa.export.guard import GUARDED

AMOUNT = "of column unit"
"""The unit of an amount that has its unit beside it."""


def _column(meaning: str, unit: str = "") -> Any:
    return field(metadata={"meaning": meaning, "unit": unit})


def _of(part_of: str) -> Any:
    return _column(_MEANINGS[part_of][0], _MEANINGS[part_of][1])


_MEANINGS = {
    "taken_at": ("when the reading was taken; of several, the last", "ISO 8601, UTC"),
    "build": ("the build, as the maker calls it", ""),
    "model": ("the model the build was begun as", ""),
    "part": ("the part, as the plan calls it", ""),
    "characteristic": ("the characteristic, as the plan calls it", ""),
    "station": ("the named place on the face; blank where read once or judged for the part", ""),
    "unit": ("mm, deg or %", ""),
    "instrument": ("which instrument, as in shop.toml; blank where none was named", ""),
    "bench": ("at which bench", ""),
    "machine": ("what cut the part", ""),
    "rh_percent": ("the room's relative humidity at the reading", "%"),
    "temp_c": ("the room's temperature at the reading", "degrees Celsius"),
    "note": ("a note to the reading", ""),
    "as_entered": ("what the instrument sent or was typed, with its unit", ""),
    "suspect": ("what was doubted in the reading; blank where nothing was", ""),
    "why": ("why it was corrected, withdrawn or accepted", ""),
    "plan": ("the plan revision: SHA-256 of its text", ""),
    "sequence": ("the store's order; a later row may name it in corrects", ""),
    "target": ("what the plan wants", AMOUNT),
    "deviation": ("value less target", AMOUNT),
    "standard_uncertainty": ("standard uncertainty of the value (JCGM 100)", AMOUNT),
    "verdict": ("conforms, does not conform, undecided or not measured", ""),
    "in_doubt": ("how an instrument it rests on was later found off; blank where none was", ""),
    "off": ("how much of the value is that error; it is not taken off", AMOUNT),
    "text": ("text that belongs to it: a reason, a note", ""),
}


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading that counts: not held, withdrawn or corrected. `dryfit load` reads this table again."""

    taken_at: str = _of("taken_at")
    build: str = _of("build")
    part: str = _of("part")
    characteristic: str = _of("characteristic")
    station: str = _of("station")
    value: float = _column("what was read, exactly", AMOUNT)
    unit: str = _of("unit")
    instrument: str = _of("instrument")
    bench: str = _of("bench")
    machine: str = _of("machine")
    rh_percent: float | None = _of("rh_percent")
    temp_c: float | None = _of("temp_c")
    note: str = _of("note")
    model: str = _of("model")
    as_entered: str = _of("as_entered")
    suspect: str = _of("suspect")
    why: str = _of("why")
    plan: str = _of("plan")
    sequence: int = _of("sequence")


@dataclass(frozen=True, slots=True)
class Kept:
    """A row of the record as it is kept for ever: held, corrected and withdrawn ones too."""

    sequence: int = _of("sequence")
    taken_at: str = _of("taken_at")
    build: str = _of("build")
    model: str = _of("model")
    part: str = _of("part")
    characteristic: str = _of("characteristic")
    station: str = _of("station")
    amount: float | None = _column("what was read; blank where the row withdraws another", AMOUNT)
    unit: str = _of("unit")
    as_entered: str = _of("as_entered")
    instrument: str = _of("instrument")
    bench: str = _of("bench")
    machine: str = _of("machine")
    rh_percent: float | None = _of("rh_percent")
    temp_c: float | None = _of("temp_c")
    note: str = _of("note")
    counts: bool = _column("whether it counts: not held, withdrawn or corrected")
    suspect: str = _of("suspect")
    held: bool = _column("whether it waited to be accepted when it was stored")
    corrects: int | None = _column("the sequence of the row it corrects or withdraws")
    why: str = _of("why")
    plan: str = _of("plan")


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on one characteristic of one build, at one station or of the whole part."""

    build: str = _of("build")
    model: str = _of("model")
    part: str = _of("part")
    characteristic: str = _of("characteristic")
    station: str = _of("station")
    kind: str = _column("the kind of characteristic, as the plan has it")
    value: float | None = _column("the judged value; blank where it cannot be told", AMOUNT)
    unit: str = _of("unit")
    target: float | None = _of("target")
    lower: float | None = _column("the lower limit, inclusive; blank where there is none", AMOUNT)
    upper: float | None = _column("the upper limit, inclusive; blank where there is none", AMOUNT)
    deviation: float | None = _of("deviation")
    standard_uncertainty: float | None = _of("standard_uncertainty")
    conformance_probability: float | None = _column(
        "probability that it lies within limits (JCGM 106)", "0 to 1"
    )
    verdict: str = _of("verdict")
    taken_at: str = _of("taken_at")
    why: str = _column("what a reader of the verdict should know")
    plan: str = _of("plan")
    in_doubt: str = _of("in_doubt")
    off: float | None = _of("off")


@dataclass(frozen=True, slots=True)
class Drift:
    """One build in a series: one characteristic at one station across builds, oldest first."""

    part: str = _of("part")
    characteristic: str = _of("characteristic")
    station: str = _of("station")
    place: int = _column("the build's place in the series, from 1")
    build: str = _of("build")
    taken_at: str = _of("taken_at")
    value: float = _column("the judged value", AMOUNT)
    unit: str = _of("unit")
    target: float | None = _of("target")
    deviation: float | None = _of("deviation")
    standard_uncertainty: float | None = _of("standard_uncertainty")
    verdict: str = _of("verdict")
    instrument: str = _of("instrument")
    bench: str = _of("bench")
    machine: str = _of("machine")
    rh_percent: float | None = _of("rh_percent")
    in_doubt: str = _of("in_doubt")
    off: float | None = _of("off")


@dataclass(frozen=True, slots=True)
class Event:
    """Something of the shop that is not a reading: a glue-up, an override, a check, a pass of planing."""

    sequence: int = _column("the store's order of events")
    at: str = _column("when", "ISO 8601, UTC")
    kind: str = _column("what: glue-up, override, check, planed, skip, climate and others")
    build: str = _of("build")
    part: str = _of("part")
    characteristic: str = _of("characteristic")
    station: str = _of("station")
    instrument: str = _of("instrument")
    text: str = _of("text")
    by: str = _column("who")
    body: str = _column("what its kind needs beside, as JSON")


@dataclass(frozen=True, slots=True)
class Explained:
    """A column of an exported table."""

    table: str = _column("the table, as --what names it")
    column: str = _column("the column")
    type: str = _column("text, number, whole number or yes/no")
    unit: str = _column("its unit; blank where it has none")
    meaning: str = _column("what it says")


TABLES: dict[str, type] = {
    "readings": Reading,
    "record": Kept,
    "verdicts": Verdict,
    "drift": Drift,
    "events": Event,
    "dictionary": Explained,
}
_TYPES = {str: "text", float: "number", int: "whole number", bool: "yes/no"}


def column_types(table: str) -> dict[str, type]:
    """The columns of a table in order, each with its Python type: str, float, int or bool."""
    hints = get_type_hints(TABLES[table])
    return {
        name: next(kind for kind in (bool, int, float, str) if _is(hint, kind))
        for name, hint in hints.items()
    }


def _is(hint: Any, kind: type) -> bool:
    return hint is kind or kind in getattr(hint, "__args__", ())


def dictionary() -> list[Explained]:
    """Every column of every table, in order."""
    found = []
    for table, rows in TABLES.items():
        types = column_types(table)
        for one in fields(rows):
            told = one.metadata
            found.append(Explained(table, one.name, _TYPES[types[one.name]], told["unit"], told["meaning"]))
    said = "in CSV only: yes where text of the row beginning with = + - @ ' tab or return has a ' in front"
    return [*found, Explained("every table", GUARDED, "yes/no", "", said)]
