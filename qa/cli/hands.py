"""What a person does at the terminal: single keys and typed lines, from a terminal or a pipe."""

from __future__ import annotations

import codecs
import os
import queue
import select
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

INSTRUMENT_S = 0.035
"""Seconds between keys, below which an instrument types, not a person; as on the Bench page."""
ERASE = "\x7f\b"
END_OF_INPUT = "\x04"
ENTER = "enter"


@dataclass(frozen=True, slots=True)
class Key:
    """One of the keys that stand for a command, or `ENTER` alone, and what was typed with it."""

    name: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Typed:
    """A line that was typed; `by_instrument` where it came faster than any person types."""

    text: str
    by_instrument: bool = False


@dataclass(frozen=True, slots=True)
class End:
    """Nothing more will be typed."""


Act = Key | Typed | End


class Hands(threading.Thread):
    """Puts acts into `acts` until the input ends or `stop` is set.

    On a terminal a key counts as soon as it is pressed on an empty line; `asking` makes the next line plain
    text, as for a reason. From a pipe every line is an act: a key's letter with what follows, or a reading.
    """

    def __init__(self, keys: str, acts: queue.Queue[object]) -> None:
        super().__init__(daemon=True)
        self.keys = keys
        self.acts = acts
        self.asking = threading.Event()
        self.stop = threading.Event()
        self.decoder = codecs.getincrementaldecoder("utf-8")(errors="ignore")

    def run(self) -> None:
        try:
            for act in self._keyed() if sys.stdin.isatty() else self._piped():
                self.acts.put(act)
        finally:  # whatever happens to the input, the session must not wait for it
            self.acts.put(End())

    def _piped(self) -> Iterator[Act]:
        for line in sys.stdin:
            text = line.strip()
            if text[:1].lower() in self.keys and text[:1] and not text[1:2].isalnum():
                yield Key(text[0].lower(), text[1:].strip())
            else:
                yield Typed(text) if text else Key(ENTER)

    def _keyed(self) -> Iterator[Act]:
        line, at = "", list[float]()
        while not self.stop.is_set():
            letter = self._letter()
            if letter == END_OF_INPUT:
                return
            if letter in ("\r", "\n") or (letter == "\t" and line and _is_instrument(at)):
                _echo("\n")
                if line or self.asking.is_set():
                    self.asking.clear()
                    yield Typed(line, _is_instrument(at))
                else:
                    yield Key(ENTER)
                line, at = "", []
            elif letter and letter in ERASE:
                _echo("\b \b" if line else "")
                line = line[:-1]
            elif not line and letter.lower() in self.keys and letter and not self.asking.is_set():
                _echo("\n")
                yield Key(letter.lower())
            elif letter and letter.isprintable():
                _echo(letter)
                line += letter
                at.append(time.monotonic())

    def _letter(self) -> str:
        """The next letter typed; "" after a moment without a whole one."""
        ready, _, _ = select.select([sys.stdin], [], [], 0.1)
        if not ready:
            return ""
        try:
            byte = os.read(sys.stdin.fileno(), 1)
        except OSError:  # the terminal has gone
            return END_OF_INPUT
        return self.decoder.decode(byte) if byte else END_OF_INPUT


def _is_instrument(at: Sequence[float]) -> bool:
    """Whether letters typed at those moments (in seconds) came too fast for a person: by half the gaps."""
    gaps = [after - before for before, after in pairwise(at)]
    return len(gaps) >= 2 and median(gaps) < INSTRUMENT_S


def _echo(text: str) -> None:
    sys.stdout.write(text)
    sys.stdout.flush()


@contextmanager
def single_keys() -> Iterator[None]:
    """A terminal that gives every key at once and echoes none; as it was afterwards."""
    if not sys.stdin.isatty():
        yield
        return
    import termios
    import tty

    before = termios.tcgetattr(sys.stdin)
    try:
        tty.setcbreak(sys.stdin)
        yield
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)
