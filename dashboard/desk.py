"""What the pages draw from: the shop's folder, its open store, and verdicts kept until something changes."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.lookout import Lookout
from dashboard.stands import Stands
from dashboard.words import UNITS
from qa.errors import QaError

if TYPE_CHECKING:
    from dashboard.hearing import Hearing
    from qa.checking import Checked
    from qa.judge import JudgedBuild
    from qa.shop import Shop
    from qa.store.store import Build, Store
    from qa.store.watch import StoreWatch

OVERLAP = 200
"""Readings looked at again for what is new: a lower number may be committed after a higher one."""


class Desk:
    """A shop as the pages see it. Every method may be called from several threads.

    `lookout` is woken by whoever has stored something here, so that the pages hear of it at once; `stands` is
    where each part stands. `at_bench` is held while a reading is given its place. `hearing` listens to the
    shop's instruments, where that was started. `press` makes a make-believe caliper send a value in
    millimetres; None where there is none.
    Methods raise the QaError (PlanError, ShopError, StoreError) of what stands in the way.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.RLock()
        self._judging = threading.RLock()  # apart, so that nobody at a bench waits while builds are judged
        self._shop: tuple[str, Shop] | None = None
        self._store: tuple[str, Store, StoreWatch] | None = None
        self._judged: dict[str, JudgedBuild | str] = {}
        self._judged_by = ""
        self._seen, self._seen_events = 0, 0
        self._benches: set[str] = set()
        self._seen_benches = 0
        self.stands = Stands()
        self._started = str(time.time_ns())  # text: a browser keeps whole numbers only up to 2**53
        self.lookout = Lookout(self)
        self.at_bench = threading.RLock()
        self.hearing: Hearing | None = None
        self.press: Callable[[float], object] | None = None

    def shop(self, unit: str | None = None) -> Shop:
        """The shop, read again when one of its files has changed; its lengths shown in `unit`, mm or in."""
        from qa.shop import load_shop

        with self._lock:
            files = self.files()
            if self._shop is None or self._shop[0] != files:
                self._shop = (files, load_shop(self.folder))
            shop = self._shop[1]
        return replace(shop, unit=unit) if unit in UNITS and unit != shop.unit else shop

    def store(self) -> Store:
        """The shop's open store; ServerGone where its server is gone."""
        return self.bench_store().itself()

    def bench_store(self) -> Store:
        """The store as a bench uses it: it goes on while its server is gone, from what it knows."""
        return self.bench()[1]

    def bench(self) -> tuple[Shop, Store]:
        """The shop and its store as a bench uses them, for one look at the shop's files."""
        shop, store, _ = self._opened()
        return shop, store

    def builds(self) -> Mapping[str, Build]:
        """Every build in the order begun."""
        return self.store().builds()

    def verdicts(self, names: Sequence[str] | None = None) -> Checked:
        """The verdicts on those builds, or on all, oldest first; only those with news are judged again."""
        from qa.checking import Checked, check_each

        with self._judging:
            self._forget_changed()
            asked = list(self.builds()) if names is None else names
            new = check_each(self.shop(), self.store(), [name for name in asked if name not in self._judged])
            self._judged |= {item.build: item for item in new.builds} | dict(new.problems)
            found = [(name, self._judged[name]) for name in asked]
        return Checked(
            tuple(item for _, item in found if not isinstance(item, str)),
            tuple((name, item) for name, item in found if isinstance(item, str)),
        )

    def benches(self) -> list[str]:
        """The benches that were ever read at, by name; once known, only new readings are looked at."""
        from qa.bench.benches import benches_since

        with self._judging:
            store = self.store()
            last = store.last_sequence()
            if last != self._seen_benches:
                self._benches |= benches_since(store, max(self._seen_benches - OVERLAP, 0))
                self._seen_benches = last
            return sorted(self._benches)

    def position(self) -> dict[str, object]:
        """Where the shop's files and store stand; it differs from an earlier one if anything changed."""
        told: dict[str, object] = {"files": self.files(), "started": self._started}
        if self.hearing is not None:
            told["lines"] = self.hearing.changes
        try:
            _, store, watch = self._opened()
            kept = store.kept_here()
            return told | {"mark": f"{kept} {store.waiting()}" if kept else watch.mark()}
        except QaError as error:
            return told | {"mark": str(error)}

    def stand(self, build: str, part: str, position: Mapping[str, object] | None = None) -> str:
        """Where one part stands, with all that may change its page; it differs if the page may.

        `position` is where the shop stands, if that was just looked at.
        """
        if position is None:
            position = self.position()
            self.look(position)
        where = {**position, "part": (build, part)}
        if isinstance(position["mark"], int):
            where["mark"] = self.stands.of(build, part)
        return str(where)

    def look(self, position: Mapping[str, object]) -> None:
        """Take in what has come to each part until the shop stood there."""
        if isinstance(position["mark"], int):
            self.stands.look(self.bench_store(), position["mark"])

    def files(self) -> str:
        """Which files describe the shop, with their sizes and times, as text to compare."""
        paths = [self.folder / "shop.toml", *sorted((self.folder / "plans").glob("*.toml"))]
        return " ".join(_stamp(path) for path in paths)

    def close(self) -> None:
        self.lookout.end()
        self._close_store()

    def _close_store(self) -> None:
        with self._lock:
            if self._store:
                self._store[2].close()
                self._store[1].close()
                self._store = None

    def _opened(self) -> tuple[Shop, Store, StoreWatch]:
        from qa.store.remembering import remembering
        from qa.store.spool import open_at_bench
        from qa.store.watch import StoreWatch

        with self._lock:
            shop = self.shop()
            url = shop.store_url
            if self._store is None or self._store[0] != url:
                self._close_store()
                store = open_at_bench(shop)
                watch = StoreWatch(store)
                self._store = (url, remembering(store, watch), watch)
                self._judged_by = ""
                self._benches, self._seen_benches, self.stands = set(), 0, Stands()
            return shop, self._store[1], self._store[2]

    def _forget_changed(self) -> None:
        store, files = self.store(), self.files()
        last = store.last_sequence()
        if files != self._judged_by:
            self._judged, self._judged_by = {}, files
        elif last != self._seen:
            for row in store.readings(after=max(self._seen - OVERLAP, 0)):
                self._judged.pop(row.build, None)
        self._seen = last
        self._forget_told(store)

    def _forget_told(self, store: Store) -> None:
        """Forget what events have changed: a part was planed, an instrument was checked."""
        from qa.calipers.in_shop import EVENT_KINDS
        from qa.store.watch import events_since

        news, self._seen_events = events_since(store, self._seen_events)
        if any(kind in EVENT_KINDS for kind, _ in news):
            self._judged = {}
        for _, build in news:
            self._judged.pop(build, None)


def _stamp(path: Path) -> str:
    try:
        state = path.stat()
    except OSError:
        return f"{path.name}:gone"
    return f"{path.name}:{state.st_size}:{state.st_mtime_ns}"
