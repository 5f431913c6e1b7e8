"""Hears an instrument whose profile is not known, until one fits."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from typing import Protocol

from drivers.profile import LineSettings, Profile
from qa.calipers.finder import ENOUGH, Finding, find

USUAL_LINES = (
    LineSettings(9600, 8, "N", 1),
    LineSettings(4800, 7, "E", 2),
    LineSettings(4800, 8, "N", 1),
    LineSettings(2400, 8, "N", 1),
    LineSettings(9600, 7, "E", 1),
    LineSettings(19200, 8, "N", 1),
    LineSettings(1200, 8, "N", 1),
    LineSettings(38400, 8, "N", 1),
    LineSettings(115200, 8, "N", 1),
)
"""Speeds and parities gauges are set to, the commonest first (from memory)."""

QUIET = 0.3
ASK_EVERY = 1.0


class Ear(Protocol):
    """An open line, as the finder uses it."""

    def bytes(self, timeout: float) -> bytes:
        """What came within so many seconds; b"" for nothing."""

    def ask(self) -> None:
        """Send the profiles' requests for one reading, where there are any."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What was found, and the line settings under which; None where they have no meaning on that line."""

    finding: Finding
    line: LineSettings | None
    seconds: float


def settings_matter(url: str) -> bool:
    """Whether speed and parity mean anything there: on a real port, not on a pseudo-terminal or network."""
    if url.startswith("rfc2217://"):
        return True
    if "://" in url:
        return False
    return not os.path.realpath(url).startswith("/dev/pts/")


def hear_until_found(
    open_ear: Callable[[LineSettings], AbstractContextManager[Ear]],
    profiles: Mapping[str, Profile],
    lines: Sequence[LineSettings],
    patience: float,
    ask: bool = False,
) -> Heard:
    """Listen with one setting after another until a profile fits for sure, or for `patience` seconds.

    The next setting is tried when bytes came that no profile can read and the line is quiet again. Nothing
    is sent unless `ask`, and then only the profiles' own requests for a reading.
    """
    begun = time.monotonic()
    until = begun + patience
    best, at_line = Finding(None, False, (), (), 0), lines[0]
    turn = 0
    while time.monotonic() < until:
        line = lines[turn % len(lines)]
        with open_ear(line) as ear:
            found = _hear(ear, profiles, until, ask, len(lines) > 1)
        if _rank(found) > _rank(best):
            best, at_line = found, line
        if found.sure:
            break
        turn += 1
    return Heard(best, at_line if len(lines) > 1 else None, time.monotonic() - begun)


def _rank(found: Finding) -> tuple[bool, bool, int, int]:
    readings = len(found.best.readings) if found.best else 0
    return found.sure, found.best is not None, readings, found.heard


def _hear(ear: Ear, profiles: Mapping[str, Profile], until: float, ask: bool, may_turn: bool) -> Finding:
    """Listen under one setting: until sure, until no profile can read what came, or until time is up."""
    raw, last, ask_at = b"", 0.0, 0.0
    found = find(raw, profiles, ask)
    while (now := time.monotonic()) < until:
        if ask and now >= ask_at:
            ear.ask()
            ask_at = now + ASK_EVERY
        came = ear.bytes(0.05)
        if came:
            raw, last = raw + came, time.monotonic()
            continue
        if not raw or time.monotonic() - last < QUIET:
            continue
        if found.heard != len(raw):
            found = find(raw, profiles, ask)
        if found.sure:
            return found
        if may_turn and (found.best is None or found.best.explained < 1 / ENOUGH):
            return found
    return find(raw, profiles, ask)


@contextmanager
def open_ear(url: str, line: LineSettings, profiles: Mapping[str, Profile]) -> Iterator[Ear]:
    """A real line, heard without believing any profile; LineError where it cannot be opened."""
    from drivers.serial_line import open_line

    asking = [profile for profile in profiles.values() if profile.request]
    any_profile = next(iter([*asking, *profiles.values()]))
    with open_line(url, replace(any_profile, line=line)) as opened:
        yield _LineEar(opened.hear, opened.request if asking else lambda: None)


class _LineEar:
    """The raw side of a serial line."""

    def __init__(self, hear: Callable[[float], object], request: Callable[[], None]) -> None:
        self._hear, self._request = hear, request

    def bytes(self, timeout: float) -> bytes:
        raw = getattr(self._hear(timeout), "raw", b"")
        return raw if isinstance(raw, bytes) else b""

    def ask(self) -> None:
        self._request()
