"""What gaps read with feeler leaves have in common.

The reading is the largest leaf that enters. The gap lies somewhere between that leaf and the next; a verdict
takes it as anywhere within one leaf step about the reading (rectangular, the instrument's `resolution` being
the step): own convention, no published source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa import finite
from qa.characteristics.base import ONCE, Characteristic, Station, Value
from qa.characteristics.fields import Fields
from qa.errors import CannotSay


def places(fields: Fields) -> tuple[Station, ...]:
    """The stations named, or one nameless station where the plan names none."""
    return fields.stations() if "stations" in fields.table else ONCE


def read_upper(fields: Fields, stations: tuple[Station, ...]) -> Characteristic | None:
    """A characteristic in millimetres that may reach `limit` at most."""
    kind = fields.text("kind")
    limit = fields.length("limit", needed=True, positive=True)
    confidence = fields.within("confidence", 0.5, 1.0, 0.95)
    if limit is None or not stations:
        return None
    return Characteristic(fields.name, kind, "mm", None, None, limit, stations, confidence=confidence)


def gap(reading: float) -> tuple[float, float]:
    """A gap as it is read; CannotSay where it is below zero."""
    if reading < 0:
        raise CannotSay(f"a gap of {reading:g} mm is below zero; read it again")
    return reading, 1.0


def largest(stations: tuple[Station, ...], readings: Mapping[str, float]) -> Sequence[Value]:
    """The largest gap, hollow (plus) or crowned (minus): one value for the part, always zero or above."""
    sizes = {s.name: abs(finite.number(readings[s.name], f"reading {s.name}".strip())) for s in stations}
    worst = max(sizes, key=lambda name: sizes[name])
    slopes = dict.fromkeys(sizes, 0.0) | {worst: -1.0 if readings[worst] < 0 else 1.0}
    return [Value(None, sizes[worst], slopes, f"largest at {worst}" if worst else "")]
