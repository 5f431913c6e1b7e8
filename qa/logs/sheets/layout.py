"""How the sheets with one header row are read: what each column holds, and what holds for every row."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from qa.errors import ShopError
from qa.logs.piece import COLUMNS
from qa.logs.sheets.dates import ORDERS, possible_dates
from qa.logs.sheets.meaning import LEAVE, VALUE, Meaning, checked, in_unit_of, read_meaning
from qa.logs.sheets.names import PLACE, PlanNames
from qa.logs.sheets.total_words import is_total
from qa.logs.sheets.units import MARKS, unit_of

DATES, DECIMAL = "dates", "decimal"
UNDECIDED = "?"
READ = "read"
"""What is said of a name that looks like a total and is none; of a total it is `LEAVE`."""
CHOICES: dict[str, tuple[str, ...]] = {DATES: tuple(ORDERS), DECIMAL: tuple(MARKS), "unit": ("mm", "in")}
"""What may hold for every row beside the columns of the log, and the unit, by the words that say it."""
SAME = tuple(name for name in (*COLUMNS, DATES, DECIMAL) if name != VALUE)
PER_FILE = ("taken_at", "build", *PLACE)
"""What a reading is of: asked for each file anew, as the next sheet may be of another."""


@dataclass(frozen=True, slots=True)
class Layout:
    """What is decided of a sheet: what its columns hold, what is the same in every row (`SAME`), and names.

    `names` are the plan's name, or `LEAVE`, for a part, characteristic or station as the sheet writes it; and
    `LEAVE` or `READ` for rows that look like a total, by what they are called.
    `sheet` is the one of a workbook that is so, and `source` the file it was kept in.
    """

    columns: Mapping[str, Meaning] = field(default_factory=dict)
    same: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    sheet: str = ""
    source: str = ""

    def with_(self, table: str, key: str, words: str, names: PlanNames) -> Layout:
        """One more thing decided, in words; ShopError where it cannot be so. `table` as the fields here."""
        if words.strip() == UNDECIDED:
            raise ShopError("is not decided yet: say what it is")
        if table == "columns":
            meaning = in_unit_of(key, read_meaning(words, names))
            return replace(self, columns={**self.columns, key: meaning})
        if table == "same":
            return replace(self, same={**self.same, key: _same_as(key, words, names)})
        return replace(self, names={**self.names, key: _named_as(key, words, names)})

    def of(self, holds: str) -> str | None:
        """The column that holds this, where there is one."""
        return next((name for name, meaning in self.columns.items() if meaning.holds == holds), None)

    def named(self, text: str) -> str:
        """A name of the sheet as the plan has it, where that is said; `LEAVE` where its rows are left out."""
        plan_name = self.names.get(text, text)
        return text if plan_name == READ else plan_name

    def holds(self, key: str) -> bool:
        """Whether a column says what is then not the same in every row; a unit may be left blank in it."""
        return key != "unit" and self.of(key) is not None

    def values(self) -> dict[str, Meaning]:
        """The columns of readings."""
        return {name: meaning for name, meaning in self.columns.items() if meaning.holds == VALUE}


def _same_as(key: str, words: str, names: PlanNames) -> str:
    """What holds for every row, as it is kept; ShopError says why it cannot be."""
    words = words.strip()
    if key not in SAME:
        raise ShopError(f"{key!r} is none of: {', '.join(SAME)}")
    if key == "unit":
        if unit_of(words) not in CHOICES["unit"]:
            raise ShopError(f"the unit of every row must be mm or in, not {words!r}")
        return unit_of(words) or ""
    if key in CHOICES and words not in CHOICES[key]:
        raise ShopError(f"{key} must be one of {', '.join(CHOICES[key])}, not {words!r}")
    if key == "taken_at" and "" not in possible_dates(words):
        raise ShopError(f"write the date as 2025-03-01 or 2025-03-01T09:30, not {words!r}")
    if key == "build" and not words:
        raise ShopError("a build must have a name")
    as_kept, why = (words, "") if key == "station" and not words else checked(key, words, names)
    if why:
        raise ShopError(why)
    return as_kept


def _named_as(key: str, words: str, names: PlanNames) -> str:
    """The plan's name for a name of the sheet, `LEAVE` or `READ`; ShopError where it cannot be that."""
    if not key.strip():
        raise ShopError("a name of the sheet is missing: blank cells have none")
    if words.strip() == LEAVE or (words.strip() == READ and is_total(key)):
        return words.strip()
    if words.strip() == READ:
        raise ShopError(f"{key!r} does not look like a total: its rows are read without a word")
    matches = (names.match(kind, words.strip()) for kind in PLACE)
    name = next((name for name in matches if name), None)
    if name is None and is_total(key):
        raise ShopError(
            f"{key!r} looks like a total: say {LEAVE} to leave its rows out, or {READ} to read them"
        )
    if name is None:
        every = ", ".join(dict.fromkeys(name for kind in PLACE for name in names.named(kind)))
        raise ShopError(f"no part, characteristic or station is called {words!r}; known: {every}")
    return name


def clashes(layout: Layout) -> Iterator[tuple[str, str, str]]:
    """What cannot be true together: the table, the key and why, for each of the later of two."""
    seen: list[tuple[str, Meaning]] = []
    for name, meaning in layout.columns.items():
        for other, before in seen:
            if meaning.clashes(before):
                why = f"holds {meaning}, and so does {other!r}: leave one, or say of what each is"
                yield "columns", name, why
        for kind in PLACE:
            if kind in meaning.fixed and layout.of(kind):
                yield "columns", name, f"says the {kind}, and so does the column {layout.of(kind)!r}"
        seen.append((name, meaning))
    for key in layout.same:
        if layout.holds(key):
            yield "same", key, f"is not the same in every row: the column {layout.of(key)!r} holds it"
