"""Whether anything has happened to one part, so that the pages of other parts are left as they are."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from qa.store.store import Store


class Stands:
    """Where each part of a store stands; what has come is asked for once, whoever asks how often."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._mark: object = None
        self._seen: int | None = None
        self._event = 0
        self._last: dict[tuple[str, str], int] = {}

    def look(self, store: Store, mark: object) -> None:
        """Take in what has come; as long as the store's `mark` is the same nothing is asked of it."""
        from qa.store.watch import newest_by_part

        with self._lock:
            if mark != self._mark:
                if self._seen is None:
                    self._seen = store.last_sequence()
                self._event, came = newest_by_part(store, self._seen)
                self._last |= came
                self._seen = max(came.values(), default=self._seen)
                self._mark = mark

    def of(self, build: str, part: str) -> tuple[int, int]:
        """Numbers that change with every event of the shop, and with every reading of that part.

        The second is the sequence of its newest reading; 0 where none came since the first look.
        """
        return self._event, self._last.get((build, part), 0)
