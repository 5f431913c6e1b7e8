"""What gaps read with feeler leaves have in common.

The reading is the largest leaf that enters. The gap lies somewhere between that leaf and the next; a verdict
takes it as anywhere within one leaf step about the reading (rectangular, the instrument's `resolution` being
the step): own convention, no published source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from qa.arithmetic import finite
from qa.characteristics.base import MILLION, Characteristic, Shown, Station, Value
from qa.errors import CannotSay


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


def largest_leaf(characteristic: Characteristic, shown: Shown) -> str:
    """What is read with leaves under a straightedge."""
    most = shown((characteristic.upper or 0) / MILLION)
    return f"largest leaf that enters under the straightedge, minus where the face is crowned; at most {most}"
