"""Advice in the words of the bench."""

from __future__ import annotations

import math

from qa.bench.speech import amount, say_held
from qa.gate.advice import SHAVING, Advice
from qa.wording import listed


def say(advice: Advice, shop_unit: str) -> str:
    """What to do about one size, in plain words."""
    if advice.held or advice.in_doubt:
        found = f"{advice.characteristic} was read by an instrument found off since: {advice.in_doubt}"
        why = say_held(advice.held, shop_unit) if advice.held else found
        return f"Measure again and take nothing off: {why}."
    if advice.missing:
        since = " since the part was planed" if advice.planed else ""
        places = [name for name in advice.missing if name]
        at = f" at {listed(places)}" if places else ""
        return f"Measure first: {advice.characteristic} has no reading{at}{since}."
    if advice.done:
        return f"Stop: {advice.characteristic} conforms everywhere; take nothing off."
    if advice.short:
        return _undersize(advice, shop_unit)
    if not advice.feasible:
        return (
            f"Planing cannot bring {advice.characteristic} inside its limits: enough wood is there, but its "
            "taper or twist needs more than the limits leave. Options: a larger limit by a dated note, a "
            "veneer on a hidden face and thickness again, or another part."
        )
    if not any(advice.take_off.values()):
        return (
            f"Take nothing off: {advice.characteristic} lies inside its limits, too near one for a single "
            "reading to tell. Measure again."
        )
    return _take_off(advice, shop_unit)


def _undersize(advice: Advice, shop_unit: str) -> str:
    station, by = advice.short or ("", 0.0)
    if advice.doubtful:
        return (
            f"Measure again and take nothing off: {advice.characteristic} reads "
            f"{amount(by, 'mm', shop_unit)} under its lower limit at {station}, too little for one reading "
            "to tell."
        )
    return (
        f"Stop: {advice.characteristic} is undersize by {amount(by, 'mm', shop_unit)} at {station}; planing "
        "cannot save it. Options: glue a veneer on the hidden face and thickness again, use it for a smaller "
        "instrument, or accept it by a note with its reason where it is not a joint."
    )


def _take_off(advice: Advice, shop_unit: str) -> str:
    order = sorted(advice.take_off.items(), key=lambda item: -item[1])
    places = [f"{amount(mm, 'mm', shop_unit)} at {name}" for name, mm in order if mm > 0]
    nothing = [name for name, mm in order if mm == 0]
    words = f"Take off {listed(places)}"
    if nothing:
        words += f"; nothing at {listed(nothing)}"
    words += f". That leaves a mean {advice.characteristic} of {amount(advice.aim or 0.0, 'mm', shop_unit)}"
    if advice.high_corners:
        words += f"; {listed(advice.high_corners)} stand high on one diagonal"
    return f"{words}. {_say_passes(advice, order[0][1])}"


def _say_passes(advice: Advice, deepest: float) -> str:
    if advice.passes is not None:
        found = advice.passes
        most = f" to {found.most}" if found.most not in (None, found.fewest) else ""
        return f"About {found.likely} passes by this part's own log ({found.fewest}{most})."
    return f"About {shavings(deepest)} of a hand plane (common practice, no source)."


def shavings(deepest: float) -> str:
    """How many shavings of a hand plane take off so many mm."""
    fewest, most = (max(1, math.ceil(deepest / each - 1e-9)) for each in reversed(SHAVING))
    return f"{fewest} to {most} shavings" if most > fewest else f"{most} shaving{'s' if most > 1 else ''}"
