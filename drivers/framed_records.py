"""Records of fixed size that begin with a header, to readings.

The stream is cut so that every byte ends up in exactly one reading or bad record: at a header the
next `size` bytes are tried; where they do not hold, only the bytes up to the next possible header
inside them are given up, so that a good record right behind a damaged one is still found.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal

from drivers.profile import Profile
from drivers.reading import BadRecord, Reading, Unit

NO_HEADER = "no header: noise, the middle of a record, or another layout, speed or parity"


class FramedRecords:
    """Finds frames by their header and reads each with `read`, which answers a value and unit or a reason."""

    def __init__(
        self, profile: Profile, header: bytes, size: int, read: Callable[[bytes], tuple[Decimal, Unit] | str]
    ) -> None:
        self._profile = profile
        self._header = header
        self._size = size
        self._read = read
        self._rest = b""
        self._noise = b""

    @property
    def pending(self) -> bytes:
        """Bytes not yet part of a record."""
        return self._noise + self._rest

    def feed(self, data: bytes, at: datetime | None) -> list[Reading | BadRecord]:
        """Read every frame that is complete with `data`."""
        buffer, size = self._rest + data, self._size
        out: list[Reading | BadRecord] = []
        here = 0
        while True:
            start = self._seek(buffer, here)
            if start > here:
                out += self._heard(buffer[here:start], at)
            here = start
            frame = buffer[here : here + size]
            if len(frame) < size:
                break
            if self._noise:
                out += self._unheaded(at)
            got = self._judge(frame, at)
            out.append(got)
            here += size if isinstance(got, Reading) else len(got.raw)
        self._rest = frame
        return out

    def distrust(self, why: str) -> None:
        """Nothing to do: a record without its header is never read."""

    def drop(self, why: str, at: datetime | None) -> list[BadRecord]:
        """Forget what is under way; it comes back as a bad record if there is anything of it."""
        dropped, self._rest, self._noise = self.pending, b"", b""
        return [BadRecord(dropped, why, at)] if dropped else []

    def _judge(self, frame: bytes, at: datetime | None) -> Reading | BadRecord:
        got = self._read(frame)
        if isinstance(got, str):
            return BadRecord(frame[: self._seek(frame, 1)], got, at)
        value, unit = got
        low, high = self._profile.limits[unit]
        if low <= value <= high:
            return Reading(value, unit, frame, at)
        why = f"{value} {unit} is not plausible: outside {low} to {high}"
        return BadRecord(frame[: self._seek(frame, 1)], why, at)

    def _seek(self, buffer: bytes, start: int) -> int:
        """Where the next header begins, or could begin at the end of the buffer."""
        found = buffer.find(self._header, start)
        if found >= 0:
            return found
        for tail in range(min(len(self._header) - 1, len(buffer) - start), 0, -1):
            if buffer.endswith(self._header[:tail]):
                return len(buffer) - tail
        return len(buffer)

    def _heard(self, noise: bytes, at: datetime | None) -> list[BadRecord]:
        noise = self._noise + noise
        whole = len(noise) - len(noise) % self._size
        self._noise = noise[whole:]
        return [BadRecord(noise[n : n + self._size], NO_HEADER, at) for n in range(0, whole, self._size)]

    def _unheaded(self, at: datetime | None) -> list[BadRecord]:
        noise, self._noise = self._noise, b""
        return [BadRecord(noise, NO_HEADER, at)] if noise else []
