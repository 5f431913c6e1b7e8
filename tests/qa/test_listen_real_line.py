"""Line settings and profile found on a real pseudo-terminal: at all other settings there is garbage."""

import os
import pty
import termios
import threading
import tty
from contextlib import contextmanager
from dataclasses import replace
from decimal import Decimal

import pytest

from drivers.frames import encode, load_profile, profiles
from qa.calipers.hearing import USUAL_LINES, hear_until_found, open_ear

LENGTHS = {name: item for name in profiles() if (item := load_profile(name)).quantity == "length"}
SIZES = [Decimal(text) for text in ("25.40", "3.17", "-0.02", "101.33", "18.02")]
SPEEDS = {getattr(termios, f"B{line.baud}"): line.baud for line in USUAL_LINES}
LOOKS = 16
PRESS_EVERY = 0.5


def levels(data, line):
    """The wire while bytes are sent: one level for each bit, start, parity and stop among them."""
    for byte in data:
        bits = [byte >> place & 1 for place in range(line.bytesize)]
        parity = [] if line.parity == "N" else [sum(bits) % 2 ^ (line.parity == "O")]
        yield from (0, *bits, *parity, *[1] * int(line.stopbits))


def heard_as(data, sent, line):
    """What a port set to `line` hears: it looks 16 times a bit for a start, then once in each bit.

    As a system does unless told otherwise, it passes over parity, and gives 0 where the stop bit is missing.
    """
    wire = [*levels(data, sent)]
    looks = len(wire) * LOOKS * line.baud // sent.baud

    def level(look):
        return look >= looks or wire[look * sent.baud // (LOOKS * line.baud)]

    heard, look = bytearray(), 0
    while look < looks:
        if level(look):
            look += 1
            continue
        bits = [level(look + LOOKS * (place + 1) + LOOKS // 2) for place in range(line.bytesize)]
        look += LOOKS * (line.bytesize + (line.parity != "N") + 1) + LOOKS // 2
        heard.append(sum(bit << place for place, bit in enumerate(bits)) if level(look) else 0)
        while not level(look):
            look += 1
    return bytes(heard)


class Instrument:
    """Pressed twice a second, on one size after another; the port hears it as the port is set."""

    def __init__(self, profile, line):
        self.profile, self.line, self.presses = profile, line, 0
        self.master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        self.url = os.ttyname(self.slave)
        self.framing = USUAL_LINES[0]
        self.over = threading.Event()
        self.thread = threading.Thread(target=self.press)

    def __enter__(self):
        self.thread.start()
        return self

    def __exit__(self, *_):
        self.over.set()
        self.thread.join()
        os.close(self.slave)
        os.close(self.master)

    @contextmanager
    def open(self, line):
        """The real port; a pseudo-terminal keeps its speed but no bits and parity, so these are told."""
        with open_ear(self.url, line, LENGTHS) as ear:
            self.framing = line
            yield ear

    def press(self):
        while not self.over.wait(PRESS_EVERY):
            speed = SPEEDS[termios.tcgetattr(self.master)[4]]
            sent = encode(self.profile, SIZES[self.presses % len(SIZES)])
            self.presses += 1
            os.write(self.master, heard_as(sent, self.line, replace(self.framing, baud=speed)))


CASES = [("text-columns" if line.bytesize == 7 else "binary-24", line) for line in USUAL_LINES]
"""Letters sent with eight bits read alike with seven and parity, so those lines are tried with full bytes."""


@pytest.mark.parametrize(
    ("name", "line"), CASES if os.environ.get("DRYFIT_FAULTS") == "long" else CASES[1:2], ids=str
)
def test_the_line_and_the_profile_are_found_from_a_few_presses(name, line):
    """Each usual setting, at which alone the instrument can be read; and what was pressed is what is read."""
    with Instrument(LENGTHS[name], line) as instrument:
        heard = hear_until_found(instrument.open, LENGTHS, USUAL_LINES, 60.0)
    assert heard.finding.sure
    assert (heard.finding.best.profile, heard.line) == (name, line)
    assert {reading.value for reading in heard.finding.best.readings} <= set(SIZES)


@pytest.mark.parametrize("line", USUAL_LINES, ids=str)
def test_the_made_up_wire_garbles_at_every_other_setting_only(line):
    """What was sent comes out as it was at its own setting; at another speed nothing of it can be read."""
    sent = encode(LENGTHS["text-columns"], SIZES[0])
    assert heard_as(sent, line, line) == sent
    for other in USUAL_LINES:
        assert heard_as(sent, line, other) != sent or other.baud == line.baud
