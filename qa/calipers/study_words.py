"""Which study an instrument is judged by on which wood, in plain sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from qa.bench.speech import amount
from qa.calipers.study import provable

if TYPE_CHECKING:
    from qa.instruments import Instrument, Studied


def say_kept(instrument: str, species: str) -> str:
    """What keeping a study means for later verdicts."""
    if species:
        return f"Kept for {instrument} on {species}: later verdicts on that wood count with it."
    return f"Kept for {instrument}: later verdicts count with it, on every wood that has no study of its own."


def say_studies(instrument: Instrument, unit: str) -> list[str]:
    """How it repeats on each wood it was studied on, by the studies that count."""
    named = [item for item in instrument.studies if item.species and instrument.studied(item.species) == item]
    return [f"{instrument.id} {_repeats(item, instrument, unit)}." for item in named]


def say_other(instrument: Instrument, unit: str) -> str:
    """By which study, if any, a part of a wood without its own is judged."""
    usual = instrument.studied()
    if usual.species:
        why = f"the largest of its studies, that on {usual.species}"
    elif usual.at:
        why = f"its study of {usual.at[:10]} that names no wood"
    else:
        why = "as shop.toml says, which is more than its studies found"
    size = amount(2 * usual.repeatability, instrument.unit, unit)
    return f"{instrument.id} on any other wood is taken to repeat to {size}: {why}."


def _repeats(item: Studied, instrument: Instrument, unit: str) -> str:
    size, tolerance = (
        amount(value, instrument.unit, unit)
        for value in (2 * item.repeatability, provable(item.repeatability))
    )
    return f"repeats to {size} on {item.species} and can prove ±{tolerance} there (study {item.at[:10]})"
