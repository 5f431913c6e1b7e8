"""Listens to the shop's instruments while the dashboard is served: one thread for each that has a line.

A reading goes to the part its instrument was last put to, durably, and the bell is rung; one that has no part
is kept as an event with its raw text. Nothing here runs inside a page's callback.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, Self

from drivers.errors import DriverError
from drivers.frames import load_profile
from drivers.reading import BadRecord, Reading
from drivers.serial_line import LineState, SerialLine
from qa.errors import QaError, ShopError, StoreError

if TYPE_CHECKING:
    from dashboard.desk import Desk
    from drivers.profile import Profile
    from qa.instruments import Instrument

LOOK_AT_FILES_S = 2.0
TRY_AGAIN_S = 1.0
WHOLE_LINE_S = 2.0
TELL_EVERY_S = 0.2
LONGEST_RAW = 80

Line = Literal["opening", "open", "lost", "waiting", "unusable", "closed"]


@dataclass(frozen=True, slots=True)
class Standing:
    """How the line to an instrument stands, and what came of it.

    `heard` is the monotonic time of the last bytes that came, None where none did. `bad` counts the records
    that could not be read and `last_bad` is the latest, its raw text and why. `unkept` says why a reading
    waits to be stored.
    """

    line: Line = "opening"
    why: str = ""
    heard: float | None = None
    bad: int = 0
    last_bad: tuple[str, str] = ("", "")
    unkept: str = ""
    asks: bool = False

    def age(self) -> float | None:
        """Seconds since anything was heard."""
        return None if self.heard is None else time.monotonic() - self.heard


class Ear(threading.Thread):
    """Hears one instrument until `stop` is set."""

    def __init__(
        self, desk: Desk, instrument: Instrument, line: SerialLine, changed: Callable[[], None]
    ) -> None:
        super().__init__(name=f"hears {instrument.id}", daemon=True)
        self.stop = threading.Event()
        self._told = 0.0
        self.standing = Standing(asks=bool(line.profile.request))
        self._desk, self._instrument, self._line, self._changed = desk, instrument, line, changed

    def run(self) -> None:
        for event in self._line.events(self.stop):
            if isinstance(event, Reading):
                self._heard()
                self._keep(event)
            elif isinstance(event, BadRecord):
                self._heard()
                self._not_understood(event)
            elif isinstance(event, LineState):
                self._say(line=event.state, why=event.why.partition("; trying again")[0])

    def ask(self) -> None:
        """Ask a polled instrument for one reading; LineError where that cannot be done."""
        self._line.request()

    def _heard(self) -> None:
        self.standing = replace(self.standing, heard=time.monotonic())

    def _not_understood(self, record: BadRecord) -> None:
        """Count it and show it; a noisy line must not make every page look again a hundred times a second."""
        raw = record.raw if isinstance(record.raw, str) else record.raw.decode("latin-1")
        told = {"bad": self.standing.bad + 1, "last_bad": (raw.strip()[:LONGEST_RAW], record.why)}
        if time.monotonic() - self._told > TELL_EVERY_S:
            self._told = time.monotonic()
            self._say(**told)
        else:
            self.standing = replace(self.standing, **told)  # type: ignore[arg-type]

    def _say(self, **what: object) -> None:
        told = replace(self.standing, **what)  # type: ignore[arg-type]
        if told != self.standing:
            self.standing = told
            self._changed()

    def _keep(self, reading: Reading) -> None:
        """Store a reading, however long the shop's files and its store need to be usable again."""
        while True:
            try:
                place_reading(self._desk, self._instrument.id, reading)
            except QaError as error:
                self._say(unkept=f"{reading.value} {reading.unit} waits to be stored: {error}")
                if self.stop.wait(TRY_AGAIN_S):
                    return
                continue
            self._desk.lookout.wake()
            self._say(unkept="")
            return


def place_reading(desk: Desk, instrument: str, reading: Reading) -> None:
    """Give a reading to the part its instrument was put to, or keep it as one that belongs nowhere.

    Pages open at that part are told of it at once. QaError where neither can be done now: the store refuses,
    or a file of the shop cannot be read.
    """
    from qa.bench.acts import open_bench
    from qa.bench.at_bench import chosen, keep_heard

    shop, store = desk.bench()
    with desk.at_bench:
        at = chosen(store, instrument)
        if at is None:
            keep_heard(store, instrument, reading)
            return
        try:
            desk.lookout.tell(open_bench(shop, store, at).take(reading), shop)
        except StoreError:
            raise
        except QaError as error:
            keep_heard(store, instrument, reading, str(error))


class Hearing:
    """The ears of a shop, one for each instrument with a line; begun and ended as a context manager.

    `changes` grows whenever a line changes, so that pages look again. Instruments that shop.toml gains or
    loses are followed.
    """

    def __init__(self, desk: Desk) -> None:
        self.changes = 0
        self._desk = desk
        self._lock = threading.Lock()
        self._ears: dict[tuple[str, str, str], Ear] = {}
        self._unusable: dict[str, Standing] = {}
        self._stop = threading.Event()
        self._follower = threading.Thread(target=self._follow, name="follows shop.toml", daemon=True)

    def __enter__(self) -> Self:
        self._follower.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._follower.join(WHOLE_LINE_S)
        with self._lock:
            ears, self._ears = list(self._ears.values()), {}
        for ear in ears:
            ear.stop.set()
        for ear in ears:
            ear.join(WHOLE_LINE_S)

    def standing(self, instrument: str) -> Standing | None:
        """How an instrument's line stands; None where it has none."""
        with self._lock:
            ear = next((ear for (name, _, _), ear in self._ears.items() if name == instrument), None)
            return ear.standing if ear else self._unusable.get(instrument)

    def ask(self, instrument: str) -> None:
        """Ask a polled instrument for one reading; ShopError or LineError where that cannot be done."""
        with self._lock:
            ear = next((ear for (name, _, _), ear in self._ears.items() if name == instrument), None)
        if ear is None:
            raise ShopError(f"{instrument or 'no instrument'} has no line that is listened to")
        ear.ask()

    def _follow(self) -> None:
        files = ""
        while not self._stop.is_set():
            now = self._desk.files()
            if now != files:
                try:
                    self._match()
                    files = now
                except QaError:  # told on every page; looked at again until it is put right
                    pass
            self._stop.wait(LOOK_AT_FILES_S)

    def _match(self) -> None:
        """Begin and end ears until they are those of shop.toml."""
        shop = self._desk.shop()
        wanted = {
            (item.id, shop.line_url(item), str(shop.profile_path(item))): item
            for item in shop.instruments.values()
            if item.url
        }
        with self._lock:
            gone = [self._ears.pop(key) for key in list(self._ears) if key not in wanted]
            self._unusable = {}
        for ear in gone:
            ear.stop.set()
            ear.join(WHOLE_LINE_S)
        for key, item in wanted.items():
            if key not in self._ears and not self._stop.is_set():
                self._begin(key, item)

    def _begin(self, key: tuple[str, str, str], item: Instrument) -> None:
        try:
            profile: Profile = load_profile(self._desk.shop().profile_path(item))
            ear = Ear(self._desk, item, SerialLine(key[1], profile), self._change)
        except DriverError as error:
            with self._lock:
                self._unusable[item.id] = Standing("unusable", str(error))
            self._change()
            return
        with self._lock:
            self._ears[key] = ear
        ear.start()

    def _change(self) -> None:
        self.changes += 1
        self._desk.lookout.wake()
