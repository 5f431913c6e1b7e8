"""The gate's reasons in plain sentences, each with its number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.bench.speech import amount, say_off, signed, to_go
from qa.calipers.standing import State
from qa.characteristics.base import MILLION
from qa.gate.advice import Advice
from qa.gate.advice_words import shavings
from qa.gate.mating import Fit
from qa.gate.movement import Moved
from qa.gate.reading_words import shown_rh
from qa.judge import Judged
from qa.plans.mate_words import BY_MEANS
from qa.plans.plan import Mate
from qa.record import place_name
from qa.wording import listed

NO_CLIMATE = "The room's humidity is not known, so it could not be looked at."
NO_MOVEMENT = "The humidity at the readings is not known, so how the wood will move could not be told."


def undecided(item: Judged, advice: Advice | None, unit: str) -> str:
    """A value too near a limit to tell, or one that its readings cannot give."""
    if item.value is None:
        return f"{item.place} cannot be told: {item.why}."
    more = (advice.take_off.get(item.station or "", 0.0) if advice else 0.0) or 0.0
    surer = f", or take {shavings(more)} off to be sure of it" if more > 0 else ""
    return f"{item.place} is {amount(item.value, item.unit, unit)}, {to_go(item, unit)}{surer}."


def in_doubt(item: Judged, unit: str) -> str:
    """A value read by an instrument that was found off since."""
    return f"{item.place} {say_off(item, unit)}; read it again with an instrument that holds."


def unknown_wood(why: str) -> str:
    """A note that the movement of the wood is not known, and why."""
    return f"How the wood will move could not be told: {why}."


def outside(item: Judged, unit: str) -> str:
    """A value outside its limits, and by how much."""
    return f"{item.place} is {amount(item.value or 0.0, item.unit, unit)}, {to_go(item, unit)}."


def lost(item: Judged, advice: Advice | None, unit: str) -> str:
    """A value that no planing can save."""
    if advice is None or advice.short is None:
        return f"{outside(item, unit)} No planing brings it inside its limits."
    station, by = advice.short
    if item.station == station:
        return f"{outside(item, unit)} Planing cannot save it."
    short = f"{advice.characteristic} {station} is undersize by {amount(by, 'mm', unit)}"
    return f"{outside(item, unit)} Planing cannot save the part: {short}."


def to_work(item: Judged, advice: Advice | None, unit: str) -> str:
    """A value that more work brings inside its limits, and where."""
    off = {name: mm for name, mm in advice.take_off.items() if mm > 0} if advice else {}
    here = off.get(item.station or "")
    if here:
        return f"{outside(item, unit)} {shavings(here).capitalize()} to go there."
    if off and not item.station:
        places = listed(sorted(off, key=lambda name: -off[name]))
        return f"{outside(item, unit)} {shavings(max(off.values())).capitalize()} to go at {places}."
    return f"{outside(item, unit)} Work on it and read it again."


def settles(item: Judged, moved: Moved, unit: str) -> str:
    """A value outside its limits by the air it was read in alone."""
    after = amount(moved.size + moved.moved, "mm", unit)
    return (
        f"{outside(item, unit)} It was read at {shown_rh(moved.rh)} % RH and becomes {after} at "
        f"{shown_rh(moved.to_rh)} %, inside its limits: let it settle before any wood comes off."
    )


def instrument(state: State, own_unit: str, unit: str) -> str:
    """An instrument that failed its check, or whose check is due; its error in its `own_unit`."""
    if state.trust == "failed":
        off = signed(state.error or 0.0, own_unit, unit)
        return (
            f"{state.instrument} was {off} off at its last check: clean its jaws, set its zero and check it "
            "again, then read the part again."
        )
    return f"{state.instrument} {state.owed}."


def struck(name: str) -> str:
    """An instrument that was checked, and is described no more."""
    return (
        f"{name} was checked and is in shop.toml no more, so nothing tells what its readings are worth: "
        "describe it again, or read the part with another."
    )


def not_described(name: str) -> str:
    """A note that an instrument is not described."""
    return f"{name} is not in shop.toml: it is taken for a usual one that was never checked."


def never_checked(state: State) -> str:
    """A note that an instrument was never checked."""
    due = f", and its first check is due on {state.due}" if state.due else ""
    return f"{state.instrument} has never been checked{due}."


def glued(at: str) -> str:
    """A note that the part was glued up before."""
    return f"The part was glued up before, on {at[:10]}."


def air(rh_percent: float, low: float, high: float) -> str:
    """The room's humidity, outside that for gluing."""
    just = "just " if low <= round(rh_percent, 1) <= high else ""
    window = f"{shown_rh(low)} to {shown_rh(high)} %"
    return f"The room is at {shown_rh(rh_percent)} % RH, {just}outside the {window} for gluing."


def moves(item: Moved, unit: str) -> str:
    """A size that will leave its limits by the reference climate."""
    after = amount(item.size + item.moved, "mm", unit)
    place, before = place_name(item.characteristic, item.station), amount(item.size, "mm", unit)
    return (
        f"{place}, {before} at {shown_rh(item.rh)} % RH, becomes {after} at {shown_rh(item.to_rh)} %, out of "
        "tolerance: let it settle and read it again."
    )


def say_movements(moved: Sequence[Moved], unit: str) -> list[str]:
    """How each size will move, its stations together, and the humidity within which all stay in tolerance."""
    alike: dict[tuple[str, float], list[Moved]] = {}
    for item in moved:
        alike.setdefault((item.characteristic, item.rh), []).append(item)
    return [_say_moved(name, items, unit) for (name, _), items in alike.items()]


def _say_moved(name: str, items: Sequence[Moved], unit: str) -> str:
    before = _range([item.size for item in items], unit)
    after = _range([item.size + item.moved for item in items], unit)
    return (
        f"{name}, {before} at {shown_rh(items[0].rh)} % RH, becomes {after} at {shown_rh(items[0].to_rh)} %; "
        f"in tolerance {_window(items)}"
    )


def _range(sizes: Sequence[float], unit: str) -> str:
    least, most = amount(min(sizes), "mm", unit), amount(max(sizes), "mm", unit)
    return least if least == most else f"{least} to {most}"


def _window(items: Sequence[Moved]) -> str:
    windows = [item.window for item in items if item.window]
    low, high = (max(w[0] for w in windows), min(w[1] for w in windows)) if windows else (1.0, 0.0)
    if len(windows) < len(items) or low > high:
        return "at no humidity"
    return f"from {low:.0f} to {high:.0f} % RH"


def say_unpredicted(why: Mapping[str, str]) -> str:
    """What no theory tells of how shapes move, like reasons together."""
    by_reason: dict[str, list[str]] = {}
    for name, reason in why.items():
        by_reason.setdefault(reason, []).append(name)
    return "; ".join(f"{listed(names)} {reason}" for reason, names in by_reason.items())


def say_clamped(before: float, after: float, reach: float, name: str, unit: str, shop_unit: str) -> str:
    """What clamping moved, and whether that is more than the readings leave in doubt."""
    moved = after - before
    told = "" if abs(moved) > reach else ", no more than the readings leave in doubt"
    return (
        f"{name} went from {amount(before, unit, shop_unit)} to {amount(after, unit, shop_unit)}, "
        f"{signed(moved, unit, shop_unit)} (± {amount(reach, unit, shop_unit)}){told}"
    )


def mate_missing(mate: Mate) -> str:
    """Two mates of which one is not measured."""
    return f"{mate.name}: {mate.size} and {mate.part} {mate.size_of} must both be measured to tell their fit."


def mate_unsaid(mate: Mate, why: str) -> str:
    """Two mates whose readings cannot give the gap."""
    return f"{mate.name}: the fit cannot be told: {why}."


def mate_in_doubt(mate: Mate, item: Judged, unit: str) -> str:
    """A size that is met, read by an instrument that was found off since."""
    return f"{mate.name}: {mate.part} {in_doubt(item, unit)}"


def mate(found: Fit, unit: str) -> str:
    """The gap predicted between two mates, at its worst station and at worst, beside what it may be."""
    low, high = (amount(edge / MILLION, "mm", unit) for edge in (found.mate.lower, found.mate.upper))
    least, most = (signed(edge, "mm", unit) for edge in found.worst or (0.0, 0.0))
    at = f", {signed(found.station.size, 'mm', unit)} at {found.station.station}" if found.station else ""
    judged = f", judged {BY_MEANS}" if found.by_means else ""
    return (
        f"{found.mate.name}: the gap to {found.mate.part} {found.mate.size_of} would be "
        f"{signed(found.gap or 0.0, 'mm', unit)}{at} ({least} to {most} at worst) "
        f"and may be {low} to {high}: {found.verdict}{judged}."
    )
