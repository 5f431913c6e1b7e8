"""A store that is asked the same again and again at a bench answers at once, until anything is stored."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING, Any, TypeVar, cast

if TYPE_CHECKING:
    from qa.record import BenchEvent, BenchReading
    from qa.store.store import Build, Store
    from qa.store.watch import StoreWatch

MOST = 100
T = TypeVar("T")


def remembering(store: Store, watch: StoreWatch) -> Store:
    """The store, remembering what it was asked of one part, one build or one instrument.

    Only SQLite tells at once that somebody has committed; a server's word comes a moment later, so a store on
    one is given back as it is.
    """
    if store.engine.dialect.name != "sqlite":
        return store
    return cast("Store", Remembering(store, watch.mark))


class Remembering:
    """Answers from memory as long as the mark stays the same; whatever else is asked, the store answers."""

    def __init__(self, store: Store, mark: Callable[[], int]) -> None:
        self._store, self._mark = store, mark
        self._lock = threading.Lock()
        self._found: dict[Hashable, tuple[int, Any]] = {}

    def __getattr__(self, name: str) -> Any:
        return getattr(self._store, name)

    def readings(self, build: str | None = None, part: str | None = None, **more: Any) -> list[BenchReading]:
        """Readings in the order they were stored; those of one part are remembered."""
        if build is None or part is None or more:
            return self._store.readings(build, part, **more)
        return [*self._once(("readings", build, part), lambda: self._store.readings(build, part))]

    def events(
        self,
        kind: str | None = None,
        build: str | None = None,
        part: str | None = None,
        instrument: str | None = None,
        newest: int | None = None,
    ) -> list[BenchEvent]:
        """Events in the order they were stored; those of one part, and the newest few, are remembered."""
        asked = (kind, build, part, instrument, newest)
        if part is None and newest is None:
            return self._store.events(*asked)
        return [*self._once(("events", *asked), lambda: self._store.events(*asked))]

    def build(self, name: str) -> Build | None:
        """The build of that name; None where the store has none."""
        return self._once(("build", name), lambda: self._store.build(name))

    def _once(self, asked: Hashable, ask: Callable[[], T]) -> T:
        mark = self._mark()  # before asking, so that what is stored meanwhile is asked for again
        with self._lock:
            known = self._found.get(asked)
        if known is None or known[0] != mark:
            known = (mark, ask())
            with self._lock:
                if len(self._found) >= MOST:
                    self._found.clear()
                self._found[asked] = known
        return cast("T", known[1])
