"""An instrument on a serial line: open, read, ask, and come back after a loss.

A line is named by a URL as pyserial has them: a device such as /dev/ttyUSB0, socket://host:port,
rfc2217://host:port, or loop:// for trying out. Records are cut by the decoder, never by a read that
timed out, so half a line is not taken for a reading.
"""

from __future__ import annotations

import contextlib
import termios
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal, Self

from drivers.errors import LineError
from drivers.frames import Decoder
from drivers.line_faults import why_not
from drivers.port import is_socket, make_port, shut
from drivers.profile import Profile
from drivers.reading import BadRecord, Reading

State = Literal["open", "lost", "waiting", "closed"]
_FIRST_WAIT, _LONGEST_WAIT = 0.5, 5.0
_SETTLE_SECONDS = 0.05
_SETTLE_CHARACTERS = 4
_LOST_HALF = "the line was lost in the middle of it"
_JOINED_HALF = "arrived while the line was being opened, so its beginning may be missing: send it again"


@dataclass(frozen=True, slots=True)
class LineState:
    """The line opened, was lost, is being waited for, or was closed; and why."""

    state: State
    why: str
    at: datetime


Event = Reading | BadRecord | LineState


@dataclass(frozen=True, slots=True)
class Heard:
    """Bytes as they came, what they were read as, and when; either may be empty."""

    raw: bytes
    events: list[Event]
    at: datetime


class SerialLine:
    """One instrument on one line; used by one thread, but for `request`.

    `poll_every` sends the profile's request that often (seconds); without it only `request` asks.
    LineError for a URL of no known kind.
    """

    def __init__(self, url: str, profile: Profile, *, poll_every: float | None = None) -> None:
        if poll_every is not None and not profile.request:
            raise LineError(
                f"{profile.name} has no request to send: leave polling out, or choose another profile"
            )
        self.url = url
        self.profile = profile
        self._port = make_port(url, profile.line)
        self._decoder = Decoder(profile)
        self._poll_every = poll_every
        self._ask_at = 0.0
        self._retry_at = 0.0
        self._wait = _FIRST_WAIT
        self._news: list[Event] = []
        self._closed = False

    def __enter__(self) -> Self:
        self.open()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def is_open(self) -> bool:
        """Whether the line is open now."""
        return bool(self._port.is_open)

    def open(self) -> None:
        """Open the line; LineError says why not and what to do.

        Blocks a moment to see whether bytes are already coming in, in which case the first text record is
        refused: its beginning may have been sent before the line was open. A TCP connection is taken to
        begin with a whole record.
        """
        if self.is_open:
            return
        try:
            self._port.open()
            settings = self.profile.line
            time.sleep(max(_SETTLE_SECONDS, _SETTLE_CHARACTERS * 12 / settings.baud))
            coming = not is_socket(self.url) and self._port.in_waiting > 0
        except (OSError, ValueError, termios.error) as error:
            shut(self._port)
            raise LineError(f"{self.url}: {why_not(error)}") from error
        self._decoder.flush()
        if coming:
            self._decoder.distrust(_JOINED_HALF)
        self._closed = False
        self._wait = _FIRST_WAIT
        self._news.append(LineState("open", f"{self.url} is open, {settings}", _now()))

    def close(self) -> None:
        """Close the line for good (until `open`); half a record is forgotten."""
        self._closed = True
        shut(self._port)
        self._decoder.flush()
        self._news.clear()

    def request(self) -> None:
        """Ask for one reading; LineError where the profile has no request or the line is gone."""
        if not self.profile.request:
            raise LineError(f"{self.profile.name} has no request: press the button on the instrument")
        try:
            self._port.write(self.profile.request)
        except OSError as error:
            raise LineError(f"{self.url}: cannot ask for a reading: {why_not(error)}") from error

    def hear(self, timeout: float = 0.1) -> Heard:
        """Wait up to `timeout` seconds for bytes; opens the line (again) where it is not open.

        LineError after `close`.
        """
        if self._closed:
            raise LineError(f"{self.url}: the line was closed")
        until = time.monotonic() + timeout
        while True:
            heard = self._hear_once(until)
            if heard.raw or heard.events or time.monotonic() >= until:
                return heard

    def events(self, stop: threading.Event | None = None, timeout: float | None = None) -> Iterator[Event]:
        """Readings, bad records and changes of the line, as they happen.

        Ends when `stop` is set (and closes the line), or after `timeout` seconds without an event
        (the line stays open, and events can be asked for again).
        """
        last = time.monotonic()
        while not self._closed and not (stop and stop.is_set()):
            events = self.hear().events
            yield from events
            if events:
                last = time.monotonic()
            elif timeout is not None and time.monotonic() - last >= timeout:
                return
        yield from self._decoder.flush("stopped in the middle of it", _now())
        self.close()
        yield LineState("closed", f"{self.url}: stopped", _now())

    def _hear_once(self, until: float) -> Heard:
        at = _now()
        if not self.is_open and not self._news:
            return Heard(b"", self._open_again(until), at)
        news: list[Event]
        news, self._news = self._news, []
        if news:
            return Heard(b"", news, at)
        try:
            self._ask_if_due()
            # Asking for one byte returns as soon as one comes, and what came with it is waiting then.
            raw = self._port.read(1)
        except (OSError, TypeError) as error:  # TypeError: pyserial on a device that went away while it read
            return Heard(b"", self._lost(error), at)
        at = _now()
        if raw:
            with contextlib.suppress(OSError, TypeError):  # lost just now: seen when it is read again
                raw += self._port.read(self._port.in_waiting)
        return Heard(raw, [*self._decoder.feed(raw, at)], at)

    def _ask_if_due(self) -> None:
        if self._poll_every is None or time.monotonic() < self._ask_at:
            return
        self._ask_at = time.monotonic() + self._poll_every
        self._port.write(self.profile.request)

    def _lost(self, error: Exception) -> list[Event]:
        shut(self._port)
        at = _now()
        self._retry_at = time.monotonic() + self._wait
        why = f"{self.url}: {why_not(error)}; trying again in {self._wait:g} s"
        return [*self._decoder.flush(_LOST_HALF, at), LineState("lost", why, at)]

    def _open_again(self, until: float) -> list[Event]:
        pause = min(self._retry_at, until) - time.monotonic()
        if pause > 0:
            time.sleep(pause)
        if time.monotonic() < self._retry_at:
            return []
        try:
            self.open()
        except LineError as error:
            self._wait = min(self._wait * 2, _LONGEST_WAIT)
            self._retry_at = time.monotonic() + self._wait
            return [LineState("waiting", f"{error}; trying again in {self._wait:g} s", _now())]
        news, self._news = self._news, []
        return news


@contextlib.contextmanager
def open_line(url: str, profile: Profile, *, poll_every: float | None = None) -> Iterator[SerialLine]:
    """A line that is open now (LineError where it cannot be) and closed at the end."""
    with SerialLine(url, profile, poll_every=poll_every) as line:
        yield line


def listen(
    url: str, profile: Profile, stop: threading.Event | None = None, *, poll_every: float | None = None
) -> Iterator[Heard]:
    """Raw bytes beside what they were read as, until `stop` is set; for finding the right profile."""
    with open_line(url, profile, poll_every=poll_every) as line:
        while not (stop and stop.is_set()):
            heard = line.hear()
            if heard.raw or heard.events:
                yield heard


def _now() -> datetime:
    return datetime.now(UTC)
