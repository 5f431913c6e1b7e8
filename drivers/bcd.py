"""One frame of four-bit groups to a value and its unit, and back."""

from __future__ import annotations

from decimal import Decimal

from drivers.profile import BcdLayout, Profile
from drivers.reading import Unit


class BcdFrame:
    """Reads and writes frames of one layout."""

    def __init__(self, profile: Profile, layout: BcdLayout) -> None:
        self._layout = layout
        self._unit = profile.unit
        self._places = {unit: max(0, -int(step.as_tuple().exponent)) for unit, step in profile.step.items()}
        named = {*range(len(layout.header)), *layout.digits, layout.sign, layout.point, layout.unit}
        self._blank = [place for place in range(layout.groups) if place not in named]
        self.header = self._pack(list(layout.header))
        self.size = (layout.groups + 1) // 2 if layout.packed else layout.groups

    def read(self, frame: bytes) -> tuple[Decimal, Unit] | str:
        """The value and unit of a frame, or why it has none."""
        layout = self._layout
        groups = self._unpack(frame)
        if groups is None:
            return "bits set where a record has none"
        digits = [groups[place] for place in layout.digits]
        sign = layout.plus if layout.sign is None else groups[layout.sign]
        unit = self._unit if layout.unit is None else layout.units.get(groups[layout.unit])
        if max(digits) > 9:
            return f"the digits hold {max(digits)}, which is no digit"
        if sign not in (layout.plus, layout.minus):
            return f"the sign group holds {sign}, neither plus ({layout.plus}) nor minus ({layout.minus})"
        if unit is None:
            return f"the unit group holds {groups[layout.unit or 0]}, which names no unit"
        places = self._places[unit]
        if layout.point is not None and groups[layout.point] != places:
            return f"{groups[layout.point]} digits after the point, where {unit} has {places}"
        if any(groups[place] for place in self._blank):
            return "a group that is always 0 is not"
        return Decimal((int(sign == layout.minus), tuple(digits), -places)), unit

    def write(self, value: Decimal, unit: Unit) -> bytes:
        """The frame of a value that is a whole number of steps; ValueError where it does not fit."""
        layout, places = self._layout, self._places[unit]
        digits = f"{int(abs(value).scaleb(places)):0{len(layout.digits)}d}"
        if len(digits) > len(layout.digits):
            raise ValueError(f"{value} {unit} does not fit {len(layout.digits)} digits")
        groups = [*layout.header, *[0] * (layout.groups - len(layout.header))]
        for place, digit in zip(layout.digits, digits, strict=True):
            groups[place] = int(digit)
        if layout.sign is not None:
            groups[layout.sign] = layout.minus if value < 0 else layout.plus
        if layout.point is not None:
            groups[layout.point] = places
        if layout.unit is not None:
            groups[layout.unit] = next(code for code, each in layout.units.items() if each == unit)
        return self._pack(groups)

    def _pack(self, groups: list[int]) -> bytes:
        if not self._layout.packed:
            return bytes(groups)
        even = [*groups, *[0] * (len(groups) % 2)]
        return bytes(high << 4 | low for high, low in zip(even[::2], even[1::2], strict=True))

    def _unpack(self, frame: bytes) -> list[int] | bytes | None:
        if not self._layout.packed:
            return frame
        groups = [group for byte in frame for group in (byte >> 4, byte & 15)]
        return None if any(groups[self._layout.groups :]) else groups
