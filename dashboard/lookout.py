"""Looks for all open pages at once whether anything has come, whoever stored it, and rings for them."""

from __future__ import annotations

import threading
from contextlib import suppress
from typing import TYPE_CHECKING
from weakref import WeakValueDictionary

from dashboard.bell import Bell
from dashboard.bench.fresh import is_news, told
from qa.errors import QaError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.desk import Desk
    from qa.record import BenchReading
    from qa.shop import Shop

LOOK_EVERY_S = 0.1
"""What other programs store wakes nobody here."""
GIVE_WAY_S = 0.005
"""Woken by a reading it waits so long, for the number of that is on its way to the pages."""


class Lookout:
    """Looks now and then, and at once when woken, from `begin` to `end`.

    `bell` is rung when anything has come; `position` is where the shop stood then.
    """

    def __init__(self, desk: Desk) -> None:
        self.bell = Bell()
        self.position: Mapping[str, object] = {}
        self._desk = desk
        self._bells: WeakValueDictionary[tuple[str, str], Bell] = WeakValueDictionary()
        self._lock = threading.Lock()
        self._awake, self._over = threading.Event(), threading.Event()
        self._thread: threading.Thread | None = None

    def begin(self) -> None:
        """Look from now on, in a thread of its own; asked again it does nothing."""
        with self._lock:
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="looks out", daemon=True)
                self._thread.start()

    def end(self) -> None:
        """Look no more."""
        self._over.set()
        self.wake()
        if self._thread is not None:
            self._thread.join()

    def wake(self) -> None:
        """Look at once."""
        self._awake.set()

    def bell_of(self, build: str, part: str) -> Bell:
        """The bell of one part, rung with each reading of it; it is there for as long as anybody holds it."""
        with self._lock:
            return self._bells.setdefault((build, part), Bell())

    def tell(self, row: BenchReading, shop: Shop) -> None:
        """Tell the pages open at its part of a row just stored."""
        bell = self._bells.get((row.build, row.part))
        if bell is not None and is_news(row) and row.sequence > bell.mark:
            bell.ring(told(row, shop), row.sequence)

    def look(self) -> None:
        """Look once."""
        position = self._desk.position()
        if position == self.position:
            return
        with suppress(QaError):  # the pages say what stands in the way
            self._desk.look(position)
            self._tell_all()
        self.position = position
        self.bell.ring()

    def _tell_all(self) -> None:
        """Tell each open bench of the newest reading of its part, if it does not know of it."""
        with self._lock:
            bells = list(self._bells.items())
        for (build, part), bell in bells:
            _, newest = self._desk.stands.of(build, part)
            if newest > bell.mark:
                for row in self._desk.store().readings(build, part, after=newest - 1):
                    self.tell(row, self._desk.shop())

    def _run(self) -> None:
        while not self._over.is_set():
            self.look()
            if self._awake.wait(LOOK_EVERY_S):
                self._over.wait(GIVE_WAY_S)
            self._awake.clear()
