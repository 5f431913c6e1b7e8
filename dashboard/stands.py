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
        self._seen = 0
        self._event = 0
        self._last: dict[tuple[str, str], int] = {}

    def of(self, store: Store, mark: object, build: str, part: str) -> tuple[int, int]:
        """Numbers that change with every reading of that part, and with every event of the shop.

        `mark` is where the store stood before asking; as long as it is the same nothing is asked.
        """
        from qa.store.watch import newest_by_part

        with self._lock:
            if mark != self._mark:
                self._event, came = newest_by_part(store, self._seen)
                self._last |= came
                self._seen = max(self._last.values(), default=0)
                self._mark = mark
            return self._event, self._last.get((build, part), 0)
