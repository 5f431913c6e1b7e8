"""Lets a bench go on while its database server is gone: rows are kept here, and handed over later.

The spool is a store of its own in the shop's folder. Its rows go to the server in their order, each exactly
once: a reading is known by its key, an event by being the same in every word.
"""

from __future__ import annotations

import heapq
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from qa.errors import ServerGone, StoreError
from qa.plans.plan import Plan, read_plan
from qa.record import BenchEvent, BenchReading
from qa.store.engine import make_engine
from qa.store.spool_file import Spool, is_spooled
from qa.store.store import Build, Store, ensure_tables, open_store

if TYPE_CHECKING:
    from qa.shop import Shop

FILE = "spool.db"
TRY_AGAIN_S = 2.0
REMEMBERED = 10_000
T = TypeVar("T")


def open_at_bench(shop: Shop) -> Store:
    """The shop's store, for capturing: where it is on a server, one that goes on without it."""
    if not shop.store_url.startswith("postgresql"):
        return open_store(shop.store_url)
    return SpooledStore(shop.store_url, shop.folder / FILE)


class SpooledStore(Store):
    """A store on a server that may go away.

    While it is gone rows are appended to the spool, and what is asked is answered from what was last known
    and from the spool: enough for the bench to go on with its part. Questions never asked before are answered
    from the spool alone. Whatever else needs the server raises ServerGone.
    """

    def __init__(self, url: str, path: Path) -> None:
        super().__init__(make_engine(url))
        self._path = path
        self._turn = threading.RLock()
        self._spool: Spool | None = Spool(path) if path.exists() else None
        self._known: dict[object, Any] = {}
        self._mine: deque[BenchReading | BenchEvent] = deque(maxlen=REMEMBERED)
        self._news: deque[str] = deque(maxlen=100)
        self._closing = threading.Event()
        self._trying: threading.Thread | None = None
        self.gone = False
        try:
            ensure_tables(self.engine)
            self.hand_over()
        except ServerGone:
            self._lost()
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        self._closing.set()
        if self._trying is not None:
            self._trying.join(TRY_AGAIN_S)
        if self._spool is not None:
            self._spool.close()
        super().close()

    def waiting(self) -> int:
        """How many rows are kept here and not yet on the server."""
        return self._spool.waiting() if self._spool else 0

    def news(self) -> list[str]:
        """What happened since this was last asked, in words for the bench."""
        told = []
        while self._news:
            told.append(self._news.popleft())
        return told

    def append(self, reading: BenchReading, plan: Plan) -> int:
        with self._turn:
            if self._ready():
                try:
                    sent = self._sent_reading(reading)
                    sequence = super().append(sent, plan)
                    self._mine.append(replace(sent, plan=plan.digest, sequence=sequence))
                    return sequence
                except ServerGone:
                    self._lost()
            sequence = self._own().append(reading, plan)
            self._news.append(kept_here(self.waiting()))
            return sequence

    def add_event(self, item: BenchEvent) -> int:
        with self._turn:
            if self._ready():
                try:
                    sent = self._sent_event(item)
                    sequence = super().add_event(sent)
                    self._mine.append(replace(sent, sequence=sequence))
                    return sequence
                except ServerGone:
                    self._lost()
            return self._own().add_event(item)

    def hand_over(self) -> int:
        """Give the server what waits, in its order, and say how many; ServerGone where it is gone again.

        A row that the server refuses (its build was begun there as another model) stays in the spool, and
        is told.
        """
        with self._turn:
            if self._spool is None or not self._spool.waiting():
                self.gone = False
                return 0
            readings, events = self._spool.waiting_readings(), self._spool.waiting_events()
            rows: Iterator[BenchReading | BenchEvent] = heapq.merge(readings, events, key=_time)
            for row in rows:
                self._give(row)
            self.gone = False
            count = len(readings) + len(events)
            self._news.append(f"{count} handed over")
            return count

    def _give(self, row: BenchReading | BenchEvent) -> None:
        spool = self._own()
        try:
            if isinstance(row, BenchReading):
                plan = read_plan(spool.plan_text(row.plan) or "", "spool.toml")
                sequence = super().append(self._sent_reading(row), plan)
            else:
                sequence = self.add_event_once(self._sent_event(row))
        except ServerGone:
            raise
        except StoreError as error:
            sequence = 0
            self._news.append(f"not taken by the server, kept in {self._path.name}: {error}")
        spool.handed(row, sequence)

    def _sent_reading(self, reading: BenchReading) -> BenchReading:
        """The reading as the server keeps it: what it corrects by the server's own number."""
        if reading.corrects is None or self._spool is None:
            return reading
        return replace(reading, corrects=self._spool.on_server(reading.corrects))

    def _sent_event(self, item: BenchEvent) -> BenchEvent:
        spool = self._spool
        if spool is None or not any(is_spooled(value) for value in item.body.values()):
            return item
        body = {name: spool.on_server(value) for name, value in item.body.items()}
        return replace(item, body=body)

    def _own(self) -> Spool:
        if self._spool is None:
            self._spool = Spool(self._path)
        return self._spool

    def _ready(self) -> bool:
        """Whether the server may be asked; whatever waits goes first."""
        if self.gone:
            return False
        if self.waiting():
            try:
                self.hand_over()
            except ServerGone:
                self._lost()
        return not self.gone

    def _lost(self) -> None:
        """Leave the server alone until a thread of its own has found it again."""
        with self._turn:
            self.gone = True
            if self._trying is None or not self._trying.is_alive():
                self._trying = threading.Thread(target=self._try_again, name="finds the server", daemon=True)
                self._trying.start()

    def _try_again(self) -> None:
        while not self._closing.wait(TRY_AGAIN_S):
            try:
                ensure_tables(self.engine)
                self.hand_over()
            except ServerGone:
                continue
            except StoreError as error:
                self._news.append(str(error))
                continue
            return

    def _asked(self, key: object, ask: Callable[[], T]) -> tuple[T | None, bool]:
        """What the server says, or what it said last, and whether it is the server that says it now."""
        if self._ready():
            try:
                found = ask()
                self._remember(key, found)
                return found, True
            except ServerGone:
                self._lost()
        return self._known.get(key), False

    def _remember(self, key: object, found: object) -> None:
        self._known.pop(key, None)
        self._known[key] = found
        while len(self._known) > REMEMBERED // 100:
            del self._known[next(iter(self._known))]

    def readings(
        self,
        build: str | None = None,
        part: str | None = None,
        characteristic: str | None = None,
        station: str | None = None,
        after: int = 0,
    ) -> list[BenchReading]:
        wanted = (build, part, characteristic, station)
        found, fresh = self._asked(
            ("readings", *wanted, after), lambda: super(SpooledStore, self).readings(*wanted, after)
        )
        if fresh and found is not None:
            return found
        own = self._spool.readings(*wanted, after) if self._spool else []
        names = ("build", "part", "characteristic", "station")
        mine = [
            row
            for row in self._mine
            if isinstance(row, BenchReading) and _fits(row, names, wanted) and row.sequence > after
        ]
        return _together(found or [], mine, own)

    def events(
        self,
        kind: str | None = None,
        build: str | None = None,
        part: str | None = None,
        instrument: str | None = None,
        newest: int | None = None,
    ) -> list[BenchEvent]:
        wanted = (kind, build, part, instrument)
        found, fresh = self._asked(
            ("events", *wanted, newest), lambda: super(SpooledStore, self).events(*wanted, newest)
        )
        if fresh and found is not None:
            return found
        own = self._spool.events(*wanted) if self._spool else []
        names = ("kind", "build", "part", "instrument")
        mine = [row for row in self._mine if isinstance(row, BenchEvent) and _fits(row, names, wanted)]
        together = _together(found or [], mine, own)
        return together if newest is None else together[-newest:]

    def build(self, name: str) -> Build | None:
        found, fresh = self._asked(("build", name), lambda: super(SpooledStore, self).build(name))
        return found if fresh or found else (self._spool.build(name) if self._spool else None)

    def first_use(self, instruments: Iterable[str]) -> dict[str, str]:
        names = tuple(instruments)
        found, _ = self._asked(("first", names), lambda: super(SpooledStore, self).first_use(names))
        return found or {}


def kept_here(waiting: int) -> str:
    """What is said of rows that wait for the server; "" where none does."""
    return f"server gone: kept here, {waiting} waiting" if waiting else ""


def _fits(row: object, names: Sequence[str], wanted: Sequence[str | None]) -> bool:
    return all(
        value is None or getattr(row, name) == value for name, value in zip(names, wanted, strict=True)
    )


def _together(*lists: Iterable[Any]) -> list[Any]:
    """Each row once, in the order of sequences; those of the spool are higher than any of the server."""
    found = {row.sequence: row for rows in lists for row in rows}
    return [found[sequence] for sequence in sorted(found)]


def _time(row: BenchReading | BenchEvent) -> str:
    return row.taken_at if isinstance(row, BenchReading) else row.at
