"""A make-believe caliper that speaks real bytes on a pseudo-terminal or a TCP port, for demo and tests."""

from __future__ import annotations

import queue
import random
import threading
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Literal, Self

from drivers.errors import DriverError
from drivers.frames import encode
from drivers.profile import Profile
from drivers.reading import NM_PER, Unit, is_unit
from drivers.simulated_ends import PtyEnd, TcpEnd

_LISTEN_SECONDS = 0.02


class SimulatedCaliper:
    """An instrument of a profile, used in a `with` block; `url` is what to open.

    `noise` is the standard deviation added to each value (in the value's unit). `dropouts`, `doubles`
    and `flips` are the chances that a record is cut short, sent twice, or has one bit changed; the same
    `seed` gives the same story. A streamed profile sends at `press`; a polled one keeps the value until it is
    asked. `link` gives the pseudo-terminal a name of your choice. `received` holds every byte it was sent.
    """

    def __init__(
        self,
        profile: Profile,
        over: Literal["pty", "tcp"] = "pty",
        *,
        link: Path | None = None,
        seed: int = 0,
        noise: float = 0.0,
        dropouts: float = 0.0,
        doubles: float = 0.0,
        flips: float = 0.0,
    ) -> None:
        self.profile = profile
        self.unit: Unit = profile.unit
        self.received = bytearray()
        self._noise, self._dropouts, self._doubles, self._flips = noise, dropouts, doubles, flips
        self._random = random.Random(seed)  # noqa: S311 - a story to repeat, no secret
        self._end = PtyEnd(link) if over == "pty" else TcpEnd()
        self._held: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def __enter__(self) -> Self:
        self.plug()
        return self

    def __exit__(self, *_: object) -> None:
        self.unplug()
        self._end.close()

    @property
    def url(self) -> str:
        """What a program opens to hear this caliper."""
        return self._end.url

    def plug(self) -> None:
        """Plug the caliper in (again), under the same name."""
        if self._thread is not None:
            return
        self._end.plug()
        self._stop.clear()
        self._thread = threading.Thread(target=self._listen, name="make-believe caliper", daemon=True)
        self._thread.start()

    def unplug(self) -> None:
        """Pull the plug: the program on the line sees it go."""
        thread, self._thread = self._thread, None
        self._stop.set()
        if thread is not None:
            thread.join()  # before the line closes: its number may be given to another file
        self._end.unplug()

    def switch(self, unit: Unit) -> None:
        """Press the button that changes the unit; DriverError for a unit the profile cannot send."""
        if not is_unit(unit) or unit not in self.profile.step:
            raise DriverError(f"{self.profile.name} sends no {unit}")
        self.unit = unit

    def press(self, value: Decimal | float | str) -> Decimal:
        """Measure `value` (millimetres, degrees or per cent) and send or hold it; gives the number shown.

        LineError where the caliper is unplugged or nobody reads; DriverError for a value it cannot show.
        """
        shown = self._shown(value)
        for record in self._records(encode(self.profile, shown, self.unit)):
            if self.profile.request:
                self._held.put(record)
            else:
                self._end.write(record)
        return shown

    def say(self, data: bytes) -> None:
        """Send any bytes, to try out noise."""
        self._end.write(data)

    def _shown(self, value: Decimal | float | str) -> Decimal:
        exact = Decimal(str(value))
        if not exact.is_finite():
            raise DriverError(f"a caliper shows no {value}")
        if self._noise:
            exact += Decimal(self._random.gauss(0.0, self._noise))
        size = Fraction(exact)
        if self.unit in NM_PER:
            size = size * NM_PER["mm"] / NM_PER[self.unit]
        step = self.profile.step[self.unit]
        return round(size / Fraction(step)) * step

    def _records(self, record: bytes) -> list[bytes]:
        if self._random.random() < self._flips:
            bit = self._random.randrange(len(record) * 8)
            record = bytes(
                byte ^ (1 << bit % 8 if place == bit // 8 else 0) for place, byte in enumerate(record)
            )
        if self._random.random() < self._dropouts:
            record = record[: self._random.randrange(1, len(record))]
        return [record] * (2 if self._random.random() < self._doubles else 1)

    def _listen(self) -> None:
        heard = b""
        while not self._stop.is_set():
            data = self._end.read(_LISTEN_SECONDS)
            self.received += data
            heard += data
            heard = self._answer(heard) if self.profile.request else b""

    def _answer(self, heard: bytes) -> bytes:
        *requests, rest = heard.split(self.profile.request)
        for _ in requests:
            if self._held.empty():
                continue
            try:
                self._end.write(self._held.get())
            except DriverError:
                continue
        return rest
