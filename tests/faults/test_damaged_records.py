"""Records damaged on the line, from their bytes to the bench."""

from decimal import Decimal

import pytest

from drivers.frames import Decoder, Reading, encode, load_profile
from qa.bench.capture import Bench
from qa.instruments import Instrument

OTHERS = ("18.00", "18.05", "18.03")
SIZE = {"mm": Decimal("18.02"), "in": Decimal("0.7095")}
MIDDLE, JUMP = 18.03, 1.5
"""Of the others; and five widths of the tolerance, 18 ± 0.15 mm."""

OUTCOMES = ("right", "noted", "asked about", "unseen")
EXPECTED = {
    ("bcd-13", "flipped"): (0, 171, 22, 15),
    ("bcd-13", "shortened"): (0, 72, 0, 0),
    ("bcd-13-packed", "flipped"): (0, 75, 22, 15),
    ("bcd-13-packed", "shortened"): (0, 36, 0, 0),
    ("binary-24", "flipped"): (0, 96, 0, 0),
    ("binary-24", "shortened"): (0, 30, 0, 0),
    ("polled-line", "flipped"): (12, 145, 20, 15),
    ("polled-line", "shortened"): (19, 14, 20, 7),
    ("text-columns", "flipped"): (4, 140, 20, 12),
    ("text-columns", "shortened"): (0, 54, 0, 0),
    ("text-line", "flipped"): (28, 145, 20, 15),
    ("text-line", "shortened"): (19, 14, 20, 7),
}
"""Of 18.02 mm and 0.7095 in. A digit that became another is unseen where the size stays within a jump of the
other places: tenths, hundredths, one in the units. A free line may lose its last digits too. A check byte
shows all of them."""


def flipped(sent, _):
    """With each bit changed."""
    for bit in range(len(sent) * 8):
        yield bytes(byte ^ (1 << bit % 8 if n == bit // 8 else 0) for n, byte in enumerate(sent))


def shortened(sent, end):
    """Cut after each byte but for the end of the line, begun at each byte, and without each byte."""
    for cut in range(1, len(sent) - len(end)):
        yield from (sent[:cut] + end, sent[cut:], sent[:cut] + sent[cut + 1 :])


@pytest.fixture
def asks(sqlite_store, plan):
    """Whether the bench holds a reading at the last station, where three good ones stand."""
    known = {}

    def ask(reading):
        key = reading.value, reading.unit
        if key not in known:
            bench = Bench(sqlite_store, plan, plan.part("tail-block"), f"B-{len(known)}", Instrument("CAL-1"))
            for value in OTHERS:
                assert not bench.take(Reading(Decimal(value), "mm", value.encode())).held
            known[key] = bench.take(reading).held
        return known[key]

    return ask


def outcome(profile, sent, data, asks):
    """What becomes of a damaged record; never another size unasked, but by less than a jump."""
    decoder = Decoder(profile)
    (right,) = decoder.feed(sent)
    said = decoder.feed(data) + decoder.flush()
    assert said, f"{data} is neither read nor noted"
    read = [each for each in said if isinstance(each, Reading)]
    if not read:
        return "noted"
    (reading,) = read
    if reading.nanometres == right.nanometres:
        return "right"
    if asks(reading):
        return "asked about"
    assert abs(reading.nanometres / 1e6 - MIDDLE) <= JUMP, data
    return "unseen"


def test_a_damaged_record_is_right_noted_asked_about_or_near(asks, tell):
    """Every flipped bit and every lost byte, head or tail; and how many nobody can see."""
    found = {}
    for name, how in EXPECTED:
        profile, counts = load_profile(name), dict.fromkeys(OUTCOMES, 0)
        for unit, size in SIZE.items():
            sent = encode(profile, size, unit)
            for data in (flipped if how == "flipped" else shortened)(sent, sent[len(sent.rstrip(b"\r\n")) :]):
                counts[outcome(profile, sent, data, asks)] += 1
        found[name, how] = tuple(counts.values())
    totals = [sum(each) for each in zip(*found.values(), strict=True)]
    tell(", ".join(f"{total} {word}" for total, word in zip(totals, OUTCOMES, strict=True)))
    assert found == EXPECTED
