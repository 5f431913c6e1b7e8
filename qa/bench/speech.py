"""What a reading means, in the words of the bench: deviation, verdict, how far to go."""

from __future__ import annotations

from drivers.lengths import format_length
from qa.bench.capture import Place
from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic, Limits, in_units
from qa.conformity import Verdict
from qa.judge import Judged, JudgedPart
from qa.record import BenchReading


def amount(value: float, unit: str, shop_unit: str, places: int | None = None) -> str:
    """An amount with its unit, lengths in the shop's; with the decimals of a reading where none are said."""
    if unit == "mm":
        return format_length(round(value * MILLION), shop_unit, places)
    if unit == "%":
        return f"{value:.{1 if places is None else places}f} %"
    return f"{value:.{2 if places is None else places}f}°"


def signed(value: float, unit: str, shop_unit: str) -> str:
    """An amount with its sign always written."""
    return f"{'+' if value >= 0 else '-'}{amount(abs(value), unit, shop_unit)}"


def say_place(place: Place, shop_unit: str) -> str:
    """Where to read next, and what it should be there."""
    item = place.characteristic
    told = say_reading(item, shop_unit)
    parts = [place.name, *([told] if told else _held_to(item, shop_unit))]
    if place.read_before:
        parts.append(f"pass {place.read_before + 1}")
    return ", ".join(parts)


def say_reading(item: Characteristic, shop_unit: str) -> str:
    """What is read for a characteristic, where that is not the judged value itself; else ""."""
    return kinds()[item.kind].reads(item, lambda mm: amount(mm, "mm", shop_unit))


def _held_to(item: Characteristic, shop_unit: str) -> list[str]:
    target, low, high = shown_amounts(item, Limits(item.target, item.lower, item.upper), shop_unit)
    within = between(low, high)
    parts = [] if target is None else [f"target {target}"]
    if within:
        parts.append(f"limits {within}" if low and high else within)
    return parts


def shown_amounts(item: Characteristic, limits: Limits, shop_unit: str) -> list[str | None]:
    """Target, lower and upper limit as texts, None where there is none."""
    exact = map(in_units, (limits.target, limits.lower, limits.upper))
    return [None if value is None else amount(value, item.unit, shop_unit) for value in exact]


def between(low: str | None, high: str | None) -> str:
    """Two limits, or the one there is, in words: "17.85 mm to 18.15 mm", "at most 0.10 mm"."""
    if low and high:
        return f"{low} to {high}"
    if low or high:
        return f"at least {low}" if low else f"at most {high}"
    return ""


def say_judged(item: Judged, shop_unit: str) -> str:
    """A verdict in one line: the value, its deviation, the verdict, and how far to go."""
    if item.value is None:
        return f"{item.characteristic}: {item.verdict}{f', {item.why}' if item.why else ''}"
    words = [f"{item.place} {amount(item.value, item.unit, shop_unit)}"]
    if item.deviation is not None and item.target:
        words.append(f"{signed(item.deviation, item.unit, shop_unit)} from target")
    words.append(str(item.verdict))
    words += [to_go(item, shop_unit)] if to_go(item, shop_unit) else []
    return ", ".join(words)


def to_go(item: Judged, shop_unit: str) -> str:
    """How far outside a limit, or how near to it where the reading cannot decide; "" where it conforms."""
    if item.value is None or item.verdict in (Verdict.CONFORMS, Verdict.NOT_MEASURED):
        return ""
    if item.verdict == Verdict.UNDECIDED:
        near = amount(min(_distances(item)), item.unit, shop_unit)
        return f"{near} from a limit, too near for one reading to tell: measure again"
    if item.upper is not None and item.value > item.upper:
        return f"over the upper limit by {amount(item.value - item.upper, item.unit, shop_unit)}"
    if item.lower is not None and item.value < item.lower:
        return f"under the lower limit by {amount(item.lower - item.value, item.unit, shop_unit)}"
    return ""


def _distances(item: Judged) -> list[float]:
    return [abs((item.value or 0.0) - limit) for limit in (item.lower, item.upper) if limit is not None]


HELD = "Kept but not counted: read the place again, or accept it"


def say_doubt(row: BenchReading, shop_unit: str) -> str:
    """What is doubted in a reading, in one sentence."""
    return f"{row.place}: {amount(row.value, row.unit, shop_unit)} {row.suspect}"


def say_held(row: BenchReading, shop_unit: str) -> str:
    """What is doubted in a reading that is kept but does not count yet, and what to do."""
    return f"{say_doubt(row, shop_unit)} {HELD}"


def say_off(item: Judged, shop_unit: str) -> str:
    """By how much a value may be off, and by which instrument, to follow the name of its place."""
    return f"may be {amount(abs(item.off), item.unit, shop_unit)} off: {item.in_doubt}"


def say_part(part: JudgedPart) -> str:
    """Whether the part is fit, in one line."""
    if part.fit:
        return f"{part.part} is fit: every characteristic conforms"
    counts = {verdict: 0 for verdict in Verdict if verdict != Verdict.CONFORMS}
    for item in part.characteristics:
        if item.verdict != Verdict.CONFORMS:
            counts[item.verdict] += 1
    told = ", ".join(f"{count} {_many(verdict, count)}" for verdict, count in counts.items() if count)
    return f"{part.part} is not fit: {told}"


def _many(verdict: Verdict, count: int) -> str:
    return "do not conform" if count > 1 and verdict == Verdict.DOES_NOT_CONFORM else str(verdict)
