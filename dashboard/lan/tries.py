"""Slows guessing: how often a passphrase may be tried, and a link that lets one device in once."""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

WINDOW_S = 60.0
FROM_ONE = 5
"""Tries within WINDOW_S from one address, before it has to wait."""
FROM_ALL = 30
"""Tries within WINDOW_S from all addresses together."""
LONGEST_WAIT_S = 900.0
FORGET_AFTER_S = 3600.0
LINK_LIVES_S = 600.0


@dataclass(slots=True)
class _Address:
    """Tries of one address: when, how often it went too far, and until when it waits."""

    tries: deque[float] = field(default_factory=deque)
    waits: int = 0
    until: float = 0.0
    last: float = 0.0


class Tries:
    """Counts the tries of each address; each wait is twice the one before, up to a quarter of an hour.

    `clock` gives seconds that never go back. Memory is bounded: no more addresses are remembered than those
    FROM_ALL lets try within FORGET_AFTER_S.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._addresses: dict[str, _Address] = {}
        self._all: deque[float] = deque()

    def take(self, address: str) -> float:
        """Count a try and give 0; or give the seconds to wait, and then the try must not be made.

        Counted before the passphrase is looked at, so that tries at the same moment are all counted.
        """
        now = self._clock()
        self._forget(now)
        if len(self._all) >= FROM_ALL:
            return self._all[0] + WINDOW_S - now
        one = self._addresses.setdefault(address, _Address())
        one.last = now
        _drop_old(one.tries, now)
        if now >= one.until and len(one.tries) >= FROM_ONE:
            one.until = now + min(WINDOW_S * 2**one.waits, LONGEST_WAIT_S)
            one.waits += 1
            one.tries.clear()
        if now < one.until:
            return one.until - now
        one.tries.append(now)
        self._all.append(now)
        return 0.0

    def forgive(self, address: str) -> None:
        """Forget the tries of an address that knew the passphrase."""
        self._addresses.pop(address, None)

    def _forget(self, now: float) -> None:
        _drop_old(self._all, now)
        kept = {
            a: one for a, one in self._addresses.items() if now < max(one.last + FORGET_AFTER_S, one.until)
        }
        self._addresses = kept


class OneTimeLink:
    """A token that is good once, within ten minutes; making another one ends it. For several threads.

    `clock` gives seconds that go on while the computer sleeps.
    """

    def __init__(self, clock: Callable[[], float] = time.time) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._token = ""
        self._until = 0.0

    def new(self) -> str:
        """Another token, of 128 random bits."""
        with self._lock:
            self._token, self._until = secrets.token_urlsafe(16), self._clock() + LINK_LIVES_S
            return self._token

    def is_good(self, token: str) -> bool:
        """Whether the token would let in; it stays as it is."""
        now, same = self._clock(), hmac.compare_digest(token.encode(), self._token.encode())
        return same and bool(token) and self._until - LINK_LIVES_S <= now < self._until

    def use(self, token: str) -> bool:
        """Whether the token lets in; it never does so again."""
        with self._lock:
            good = self.is_good(token)
            if good:
                self._token = ""
            return good


def _drop_old(times: deque[float], now: float) -> None:
    while times and times[0] <= now - WINDOW_S:
        times.popleft()
