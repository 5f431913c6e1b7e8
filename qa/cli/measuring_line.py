"""The line of the instrument at the terminal: heard in a thread of its own, and asked where it must be."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from drivers.errors import LineError
from drivers.frames import load_profile
from drivers.serial_line import SerialLine

if TYPE_CHECKING:
    from qa.instruments import Instrument
    from qa.shop import Shop


class Ear(threading.Thread):
    """Puts what an instrument sends into `acts` until it is ended."""

    def __init__(self, shop: Shop, instrument: Instrument, acts: queue.Queue[object]) -> None:
        super().__init__(daemon=True)
        self._line = SerialLine(shop.line_url(instrument), load_profile(shop.profile_path(instrument)))
        self._acts = acts
        self._stop_it = threading.Event()
        self.only_answers = bool(self._line.profile.request)

    def open(self) -> str:
        """Open the line; gives why it is not open, "" where it is. It is tried again while it is heard."""
        return _why_not(self._line.open)

    def ask(self) -> str:
        """Ask for one reading; gives why that cannot be done, "" where it was."""
        return _why_not(self._line.request)

    def run(self) -> None:
        for event in self._line.events(self._stop_it):
            self._acts.put(event)

    def end(self) -> None:
        """Stop hearing, and wait until the line is closed."""
        self._stop_it.set()
        self.join(2)


def _why_not(step: Callable[[], None]) -> str:
    """Take a step on the line; gives why it fails, "" where it does not."""
    try:
        step()
    except LineError as error:
        return str(error)
    return ""
