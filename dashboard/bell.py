"""A bell that threads ring and coroutines wait for, so that nobody needs to look again and again."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress


class Bell:
    """Rung from any thread; every coroutine that is listening wakes on its own event loop.

    `news` is what was last told with a ring, and `mark` how far that goes.
    """

    def __init__(self) -> None:
        self.news, self.mark = "", 0
        self._lock = threading.Lock()
        self._listening: set[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = set()

    def ring(self, news: str = "", mark: int = 0) -> None:
        """Wake whoever listens, and tell them the news."""
        with self._lock:
            self.news, self.mark = news, mark
            listening = list(self._listening)
        for loop, event in listening:
            with suppress(RuntimeError):  # that loop is closed
                loop.call_soon_threadsafe(event.set)

    @contextmanager
    def listening(self) -> Iterator[asyncio.Event]:
        """An event that is set at each ring; clear it before looking. To be used inside a coroutine."""
        mine = (asyncio.get_running_loop(), asyncio.Event())
        with self._lock:
            self._listening.add(mine)
        try:
            yield mine[1]
        finally:
            with self._lock:
                self._listening.discard(mine)
