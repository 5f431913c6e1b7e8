"""Amounts and names as a page writes them."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from drivers.reading import NM_PER
from qa import wording

UNITS = ("mm", "in")

if TYPE_CHECKING:
    from qa.judge import Judged, JudgedPart
    from qa.plans.plan import Part


def amount(value: float | None, unit: str, shown_in: str, places: int | None = None) -> str:
    """A value of `unit` as text: a length in the shop's unit, `shown_in`; an en dash where there is none."""
    from qa.bench.speech import amount as say

    return "–" if value is None else say(value, unit, shown_in, places).replace("-", "−")


def signed(value: float | None, unit: str, shown_in: str, places: int | None = None) -> str:
    """As `amount`, with a plus before what is above zero."""
    text = amount(value, unit, shown_in, places)
    return f"+{text}" if value is not None and value > 0 else text


def fine(unit: str, shown_in: str) -> int:
    """The decimals to show an uncertainty or a mean with: one more than a reading has."""
    return 5 if unit == "mm" and shown_in == "in" else 3


def limits(judged: Judged, shown_in: str) -> str:
    """The limits as a person says them: "21.75 to 22.25 mm", "at most 0.10 mm"."""
    low, high = (amount(limit, judged.unit, shown_in) for limit in (judged.lower, judged.upper))
    if judged.lower is None:
        return f"at most {high}"
    if judged.upper is None:
        return f"at least {low}"
    number, _, unit = low.partition(" ")
    return f"{number} to {high}" if high.endswith(f" {unit}") else f"{low} to {high}"


def axis_unit(unit: str, shown_in: str) -> str:
    """The unit of a scale."""
    return shown_in if unit == "mm" else unit


def on_axis(value: float | None, unit: str, shown_in: str) -> float | None:
    """A value as a number on a scale in `axis_unit`."""
    if value is None or unit != "mm":
        return value
    return value * NM_PER["mm"] / NM_PER[shown_in]


def listed(names: Sequence[str], most: int = 8) -> str:
    """ "a, b and c", the long ones cut: "a, b and 5 more"."""
    return wording.listed(names, most)


def counted(number: int, one: str, many: str) -> str:
    """ "1 build", "3 builds"."""
    return f"{number} {one if number == 1 else many}"


def unbroken(names: str) -> str:
    """Names that do not break at their hyphens where a line ends."""
    return names.replace("-", "\N{NON-BREAKING HYPHEN}")


def plain(name: str) -> str:
    """A name of a plan as words."""
    return name.replace("-", " ")


def spoken(text: str, names: Iterable[str]) -> str:
    """A sentence with those names of a plan as words, as they stand alone; all else keeps its hyphens."""
    asked = sorted({name for name in names if "-" in name}, key=len, reverse=True)
    if not asked:
        return text
    whole = rf"(?<![\w-])(?:{'|'.join(map(re.escape, asked))})(?![\w-])"
    return re.sub(whole, lambda found: plain(found[0]), text)


def names_of(part: Part) -> set[str]:
    """The names a sentence on a part may hold: its own, its characteristics', its places', its mates'."""
    found = {part.name, *part.characteristics}
    found |= {station.name for item in part.characteristics.values() for station in item.stations}
    return found | {name for mate in part.mates for name in (mate.name, mate.part, mate.size_of)}


def names_judged(part: JudgedPart) -> set[str]:
    """As `names_of`, of what was judged of a part."""
    found = {name for item in part.characteristics for name in (item.characteristic, item.station or "")}
    return {part.part, *found}


def moment(at: str, zone: dt.tzinfo) -> str:
    """A moment of the record (ISO 8601 in UTC) by the shop's clock: "2026-03-02 14:05"."""
    return f"{dt.datetime.fromisoformat(at).astimezone(zone):%Y-%m-%d %H:%M}"
