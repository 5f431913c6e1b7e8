"""Lets a bench go on while its database server is gone: rows are kept here, and handed over later.

The spool is a store of its own in the shop's folder. Its rows go to the server in their order, each exactly
once: a reading is known by its key, an event by being the same in every word.
"""

from __future__ import annotations

import heapq
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from qa.errors import RowRefused, ServerGone, StoreError
from qa.record import BenchEvent, BenchReading
from qa.store.address import on_server
from qa.store.engine import make_engine
from qa.store.spool_file import Spool, fits, is_spooled, merged, time_of
from qa.store.spool_words import why_kept
from qa.store.store import Build, Revision, Store, ensure_tables, open_store

if TYPE_CHECKING:
    from qa.shop import Shop

FILE = "spool.db"
BENCH_WAITS_MS = 1000
"""How long a bench waits for its turn to write, before it takes the server for gone."""
TRY_AGAIN_S, CLOSING_WAITS_S = 2.0, 5.0
"""How often a server that is gone is looked for; how long closing waits for a look under way."""
MOST_ROWS, MOST_ANSWERS = 10_000, 100
"""How many rows handed to the server, and how many of its answers, a bench remembers for when it is gone."""
T = TypeVar("T")
Row = TypeVar("Row", BenchReading, BenchEvent)


def open_at_bench(shop: Shop) -> Store:
    """The shop's store, for capturing: where it is on a server, one that goes on without it."""
    if not on_server(shop.store_url):
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
        self.wait_ms = BENCH_WAITS_MS
        self._turn = threading.RLock()
        self._opened: Spool | None = None
        self._answering = threading.Lock()
        self._known: dict[object, Any] = {}
        self._mine: deque[BenchReading | BenchEvent] = deque(maxlen=MOST_ROWS)
        self._news: deque[str] = deque(maxlen=100)
        self._closing = threading.Event()
        self._trying: threading.Thread | None = None
        self._refused, self._why = "", ""
        self._itself = Store(self.engine)
        self.gone = False
        try:
            ensure_tables(self.engine)
            self._ready()
        except ServerGone as error:
            self._lost(error)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        self._closing.set()
        if self._trying is not None:
            self._trying.join(CLOSING_WAITS_S)
        if self._opened is not None:
            self._opened.close()
        super().close()

    def waiting(self) -> int:
        """How many rows are kept here and not yet on the server."""
        return self._spool.waiting() if self._spool else 0

    def kept_here(self) -> str:
        """That the server is gone and how many readings wait, or that it refused one; "" for neither."""
        if not self.gone:
            return self._refused
        return self._why.replace("{}", str(self._spool.waiting_of(BenchReading) if self._spool else 0))

    def itself(self) -> Store:
        if self.gone:
            raise ServerGone(f"{self.kept_here()}; this needs the server")
        return self._itself

    def news(self) -> list[str]:
        """What happened since this was last asked, in words for the bench."""
        return [self._news.popleft() for _ in range(len(self._news))]

    def _tell_kept(self) -> None:
        if self._news and self._news[-1].startswith(self._why.partition("(")[0]):
            self._news.pop()
        self._news.append(self.kept_here())

    def append(self, reading: BenchReading, plan: Revision) -> int:
        row = replace(reading, plan=plan.digest)
        with self._turn:
            sequence = self._to_server(row, lambda sent: super(SpooledStore, self).append(sent, plan))
            if sequence is None:
                sequence = self._own().append(row, plan)
                self._tell_kept()
            return sequence

    def add_event(self, item: BenchEvent) -> int:
        with self._turn:
            sequence = self._to_server(item, super().add_event)
            return self._own().add_event(item) if sequence is None else sequence

    def _to_server(self, row: Row, store: Callable[[Row], int]) -> int | None:
        """Store a row on the server and remember it; None where the server is gone."""
        if self._ready():
            try:
                sent = self._sent(row)
                sequence = store(sent)
                self._mine.append(replace(sent, sequence=sequence))
                return sequence
            except ServerGone as error:
                self._lost(error)
        return None

    def hand_over(self) -> int:
        """Give the server what waits, in its order, and say how many; StoreError where it takes nothing now.

        A row that it can never take (its build was begun there as another model) stays in the spool, and is
        told. What a bench reads meanwhile joins the spool, so that it need not wait for the end of this.
        """
        count = of_readings = 0
        while True:
            spool = self._spool
            readings, events = (spool.waiting_readings(), spool.waiting_events()) if spool else ([], [])
            rows: Iterator[BenchReading | BenchEvent] = heapq.merge(readings, events, key=time_of)
            for row in rows:
                self._give(row)
            count, of_readings = count + len(readings) + len(events), of_readings + len(readings)
            with self._turn:
                if self.waiting():
                    continue
                if self.gone or count:
                    self._news.append(f"the server is back; readings handed over: {of_readings}")
                self.gone = False
                return count

    def _give(self, row: BenchReading | BenchEvent) -> None:
        spool = self._own()
        try:
            if isinstance(row, BenchReading):
                sequence = super().append(self._sent(row), spool.plan(row.plan))
            else:
                sequence = self.add_event_once(self._sent(row))
        except RowRefused as error:
            sequence = 0
            self._refused = f"not taken by the server, kept in {self._path.name}: {error}"
            self._news.append(self._refused)
        spool.handed(row, sequence)

    def _sent(self, row: Row) -> Row:
        """The row as the server keeps it: other rows named by the server's own numbers."""
        spool = self._spool
        if spool is None:
            return row
        if isinstance(row, BenchReading):
            return replace(row, corrects=spool.server_number(row.corrects))
        if not any(is_spooled(value) for value in row.body.values()):
            return row
        return replace(row, body={name: spool.server_number(value) for name, value in row.body.items()})

    @property
    def _spool(self) -> Spool | None:
        """The spool where there is one: another program at this bench may have begun it."""
        return self._own() if self._opened or self._path.exists() else None

    def _own(self) -> Spool:
        with self._turn:
            if self._opened is None:
                self._opened = Spool(self._path)
            return self._opened

    def _in_spool(self, rows: Sequence[Row]) -> list[Row]:
        """Rows of the spool, those handed over by the server's numbers and without those it refused."""
        handed = self._own().handed_as([row.sequence for row in rows])
        kept = [row for row in rows if handed.get(row.sequence) != 0]
        return [replace(self._sent(row), sequence=handed.get(row.sequence, row.sequence)) for row in kept]

    def _ready(self) -> bool:
        """Whether the server may be asked; whatever waits goes first."""
        if self.gone:
            return False
        if self.waiting():
            try:
                self.hand_over()
            except StoreError as error:
                self._lost(error)
        return not self.gone

    def _lost(self, error: StoreError) -> None:
        """Leave the server alone until a thread of its own has found it again."""
        with self._turn:
            if self.gone:
                return
            self.gone, self._why = True, why_kept(error)
            self._trying = threading.Thread(target=self._try_again, name="finds the server", daemon=True)
            self._trying.start()
            self._tell_kept()

    def _try_again(self) -> None:
        """Look for the server until it has all that waits; what stands in the way is told and tried again."""
        while not self._closing.wait(TRY_AGAIN_S):
            try:
                ensure_tables(self.engine)
                with self.writing():  # whose turn may be long in coming, while the bench goes on
                    pass
                self.hand_over()
                return
            except Exception as error:  # whatever it is, without this search the bench stays on its spool
                if self._why != why_kept(error):
                    self._why = why_kept(error)
                    self._news.append(str(error) or repr(error))

    def _asked(self, key: object, ask: Callable[[], T]) -> tuple[T | None, bool]:
        """What the server says, or what it said last, and whether it is the server that says it now."""
        if self._ready():
            try:
                found = ask()
                self._remember(key, found)
                return found, True
            except ServerGone as error:
                self._lost(error)
        return self._known.get(key), False

    def _remember(self, key: object, found: object) -> None:
        with self._answering:
            self._known.pop(key, None)
            self._known[key] = found
            if len(self._known) > MOST_ANSWERS:
                del self._known[next(iter(self._known))]

    def _rows(
        self, kind: type[Row], ask: Callable[..., list[Row]], wanted: Mapping[str, str | None], more: object
    ) -> list[Row]:
        """What the server says; while it is gone what it said last, and what this bench has stored since."""
        asked: tuple[object, ...] = (*wanted.values(), more)
        found, fresh = self._asked((kind, *asked), lambda: ask(self, *asked))
        if fresh and found is not None:
            return found
        mine = [row for row in self._mine.copy() if isinstance(row, kind) and fits(row, wanted)]
        own = self._in_spool(ask(self._spool, *wanted.values())) if self._spool else []
        return merged(found or [], mine, own)

    def readings(
        self,
        build: str | None = None,
        part: str | None = None,
        characteristic: str | None = None,
        station: str | None = None,
        after: int = 0,
    ) -> list[BenchReading]:
        wanted = {"build": build, "part": part, "characteristic": characteristic, "station": station}
        rows = self._rows(BenchReading, Store.readings, wanted, after)
        return [row for row in rows if row.sequence > after]

    def events(
        self,
        kind: str | None = None,
        build: str | None = None,
        part: str | None = None,
        instrument: str | None = None,
        newest: int | None = None,
    ) -> list[BenchEvent]:
        wanted = {"kind": kind, "build": build, "part": part, "instrument": instrument}
        rows = self._rows(BenchEvent, Store.events, wanted, newest)
        return rows if newest is None else rows[-newest:]

    def build(self, name: str) -> Build | None:
        found, fresh = self._asked(("build", name), lambda: super(SpooledStore, self).build(name))
        return found if fresh or found else (self._spool.build(name) if self._spool else None)

    def plan_text(self, digest: str) -> str | None:
        found, fresh = self._asked(("plan", digest), lambda: super(SpooledStore, self).plan_text(digest))
        return found if fresh or found else (self._spool.plan_text(digest) if self._spool else None)

    def first_use(self, instruments: Iterable[str]) -> dict[str, str]:
        names = tuple(instruments)
        return self._asked(("first", names), lambda: super(SpooledStore, self).first_use(names))[0] or {}
