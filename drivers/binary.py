"""One frame of bits to a value and its unit, and back."""

from __future__ import annotations

from decimal import Decimal
from functools import reduce
from operator import xor

from drivers.profile import BinaryLayout, Profile
from drivers.reading import Unit


class BinaryFrame:
    """Reads and writes frames of one layout."""

    def __init__(self, profile: Profile, layout: BinaryLayout) -> None:
        self._layout = layout
        self._unit = profile.unit
        self._step = dict(profile.step)
        self._bytes = -(-layout.bits // layout.bits_per_byte)
        self._first, last = layout.count
        self._most = (1 << (last - self._first + 1)) - 1
        self._ones = sum(1 << bit for bit in layout.ones)
        # Bits that nothing names may be anything (status); bits beyond the record and declared zeros may not.
        self._zeros = sum(1 << bit for bit in layout.zeros) | ~((1 << layout.bits) - 1)
        self.header = layout.header
        self.size = len(layout.header) + self._bytes + layout.check

    def read(self, frame: bytes) -> tuple[Decimal, Unit] | str:
        """The value and unit of a frame, or why it has none."""
        layout = self._layout
        data = frame[len(layout.header) : len(layout.header) + self._bytes]
        if layout.check and reduce(xor, data) != frame[-1]:
            return "the check byte does not agree: damaged on the way"
        if max(data) >> layout.bits_per_byte:
            return "bits set where a record has none"
        record = sum(byte << place * layout.bits_per_byte for place, byte in enumerate(data))
        if record & self._ones != self._ones or record & self._zeros:
            return "a bit that never changes has changed"
        unit = self._unit
        if layout.inch is not None:
            unit = "in" if record >> layout.inch & 1 else "mm"
        count = record >> self._first & self._most
        minus = layout.sign is not None and record >> layout.sign & 1
        return (-count if minus else count) * self._step[unit], unit

    def write(self, value: Decimal, unit: Unit) -> bytes:
        """The frame of a value that is a whole number of steps; ValueError where it does not fit."""
        layout = self._layout
        count = int(abs(value) / self._step[unit])
        if count > self._most or (value < 0 and layout.sign is None):
            raise ValueError(f"{value} {unit} does not fit the record")
        record = self._ones | count << self._first
        if layout.sign is not None and value < 0:
            record |= 1 << layout.sign
        if layout.inch is not None and unit == "in":
            record |= 1 << layout.inch
        mask = (1 << layout.bits_per_byte) - 1
        data = bytes(record >> place * layout.bits_per_byte & mask for place in range(self._bytes))
        return layout.header + data + (bytes([reduce(xor, data)]) if layout.check else b"")
