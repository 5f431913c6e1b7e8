"""The gate's reasons in plain sentences, each with its number."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from qa.advice import Advice
from qa.advice_words import shavings
from qa.judge import Judged
from qa.mating import Fit
from qa.movement import Moved
from qa.plan import Mate
from qa.record import BenchReading
from qa.speech import amount, signed, to_go
from qa.trust import State

NO_CLIMATE = "The room's humidity is not known, so it could not be looked at: give --rh, or log it."
NO_MOVEMENT = "The humidity at the readings is not known, so how the wood will move could not be told."


def _name(item: Judged) -> str:
    return " ".join(word for word in (item.characteristic, item.station) if word)


def not_measured(item: Judged) -> str:
    return f"{_name(item)} has not been measured; not measured is never fit."


def undecided(item: Judged, unit: str) -> str:
    if item.value is None:
        return f"{_name(item)}: {item.why}."
    return f"{_name(item)} is {amount(item.value, item.unit, unit)}: {to_go(item, unit)}."


def outside(item: Judged, unit: str) -> str:
    return f"{_name(item)} is {amount(item.value or 0.0, item.unit, unit)}: {to_go(item, unit)}."


def lost(item: Judged, advice: Advice | None, unit: str) -> str:
    if advice is not None and advice.short:
        station, by = advice.short
        by_how_much = amount(by, "mm", unit)
        return f"{advice.characteristic} {station} is undersize by {by_how_much}: planing cannot save it."
    return f"{outside(item, unit)} No planing brings it inside its limits."


def to_work(item: Judged, advice: Advice | None, unit: str) -> str:
    deepest = max(advice.take_off.values(), default=0.0) if advice else 0.0
    if deepest > 0:
        return f"{outside(item, unit)} It can be saved: {shavings(deepest)} where it stands highest."
    return f"{outside(item, unit)} Work on it and read it again."


def before_planing(rows: Sequence[BenchReading]) -> str:
    places = ", ".join(f"{row.characteristic} {row.station}".strip() for row in rows[:3])
    more = f" and {len(rows) - 3} more" if len(rows) > 3 else ""
    return f"{places}{more} was read before the last pass of planing: read it again."


def too_old(count: int, oldest: BenchReading, now: dt.datetime, life: dt.timedelta) -> str:
    age = now - dt.datetime.fromisoformat(oldest.taken_at)
    told = f"{age.days} days" if age.days > 3 else f"{age.total_seconds() / 3600:.0f} hours"
    hours = life.total_seconds() / 3600
    at = f" at {oldest.rh_percent:g} % RH" if oldest.rh_percent is not None else ""
    return f"{count} readings are too old, the oldest taken {told} ago{at}; a reading holds {hours:g} hours."


def instrument(state: State) -> str:
    if state.trust == "failed":
        return (
            f"{state.instrument} was {signed(state.error or 0.0, 'mm', 'mm')} off at its last check: "
            "clean its jaws, set its zero and check it again, then read the part again."
        )
    return f"{state.instrument} was due for a check on {state.due}: dryfit caliper check {state.instrument}."


def never_checked(name: str) -> str:
    return f"{name} has never been checked: dryfit caliper check {name}."


def air(rh_percent: float, low: float, high: float) -> str:
    return f"The room is at {rh_percent:g} % RH, outside the {low:g} to {high:g} % for gluing."


def moves(item: Moved, unit: str) -> str:
    after = amount(item.size + item.moved, "mm", unit)
    return (
        f"{item.characteristic} {item.station}, {amount(item.size, 'mm', unit)} at {item.rh:g} % RH, becomes "
        f"{after} at {item.to_rh:g} %, out of tolerance: let it settle and read it again."
    )


def say_movement(item: Moved, unit: str) -> str:
    """How far a size will move, and the humidity within which it stays in tolerance."""
    window = "no humidity" if item.window is None else f"{item.window[0]:.0f} to {item.window[1]:.0f} % RH"
    return (
        f"{item.characteristic} {item.station} moves {signed(item.moved, 'mm', unit)} from {item.rh:g} to "
        f"{item.to_rh:g} % RH; it stays in tolerance at {window}"
    )


def mate_missing(mate: Mate) -> str:
    return f"{mate.name}: {mate.size} and {mate.part} {mate.size_of} must both be measured to tell their fit."


def mate(found: Fit, unit: str) -> str:
    gap = signed(found.gap or 0.0, "mm", unit)
    low, high = (amount(edge / 1e6, "mm", unit) for edge in (found.mate.lower, found.mate.upper))
    worst = " to ".join(signed(edge, "mm", unit) for edge in found.worst or ())
    return (
        f"{found.mate.name}: the gap to {found.mate.part} {found.mate.size_of} would be {gap} "
        f"(at worst {worst}), and may be {low} to {high}: {found.verdict}."
    )
