"""Any bytes in any chunks for the decoder, guided by coverage; a process of its own, which libFuzzer ends.

    fuzz_decoder.py CORPUS [option of libFuzzer ...]

An input names a profile, whether the line was opened in the middle of a record, and four sizes of chunks,
taken in turn; the rest is the stream. A broken promise raises: libFuzzer reports it and ends in a fault.
"""

import sys
from itertools import cycle
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["drivers"]):
    from drivers.frames import Decoder, Reading, encode, load_profile, profiles

PROFILES = [load_profile(name) for name in profiles()]
HEAD = 6
LONGEST = 256
KNOWN = 7


def judge(data):
    """Hold the decoder to its promises on one input."""
    if len(data) < HEAD:
        return
    profile, midway = PROFILES[data[0] % len(PROFILES)], bool(data[1] & 1)
    stream = data[HEAD:]
    whole = heard(profile, midway, [stream])
    assert heard(profile, midway, chunks(stream, [*(size % 32 for size in data[2:HEAD]), 1])) == whole
    assert heard(profile, midway, chunks(stream, [1])) == whole
    assert sum(len(each.raw) for each in whole) <= len(stream), "more was told than was sent"
    assert all(isinstance(each, Reading) or each.why for each in whole), "refused without a reason"


def heard(profile, midway, parts):
    """Everything a decoder says to these parts; then it must read a good record as if nothing had been."""
    decoder = Decoder(profile)
    if midway:
        decoder.distrust()
    said = []
    for part in parts:
        said += decoder.feed(part)
        assert len(decoder.pending) <= LONGEST, f"{len(decoder.pending)} bytes are kept"
    said += decoder.flush()
    value = profile.step[profile.unit] * KNOWN
    (known,) = decoder.feed(encode(profile, value))
    assert (known.value, known.unit) == (value, profile.unit)
    return said


def chunks(stream, sizes):
    """The stream cut into chunks of these sizes, in turn."""
    here = 0
    for size in cycle(sizes):
        if here >= len(stream):
            return
        yield stream[here : here + size]
        here += size


def sow(corpus):
    """What each instrument sends, as a place to begin from."""
    for number, profile in enumerate(PROFILES):
        sent = b"".join(example.sent for example in profile.examples)
        (corpus / profile.name).write_bytes(bytes([number, 0, 5, 1, 13, 0]) + sent)


if __name__ == "__main__":
    sow(Path(sys.argv[1]))
    atheris.Setup(sys.argv, judge)
    atheris.Fuzz()
