"""How many records a second the decoder reads, against the least any reader must do in the same run."""

from __future__ import annotations

import time
from decimal import Decimal

import pytest

from drivers.frames import Decoder, Reading, encode, load_profile, profiles

RECORDS = 20_000
CHUNK = 4096
MOST_TIMES_FLOOR = 50
PROFILES = [load_profile(name) for name in profiles()]


def decode(profile, chunks):
    decoder = Decoder(profile)
    return [record for chunk in chunks for record in decoder.feed(chunk)]


def floor(lines):
    return [float(line[:8]) for line in lines.split(b"\n")]


def times(task, least):
    """How many times `least` a task costs: processor time, run in turns, the best of fifteen each."""
    spans = {task: [], least: []}
    for _ in range(15):
        for each, spent in spans.items():
            start = time.thread_time()
            each()
            spent.append(time.thread_time() - start)
    return min(spans[task]) / min(spans[least])


@pytest.mark.parametrize("profile", PROFILES, ids=lambda profile: profile.name)
def test_decoding_against_splitting_and_float(benchmark, target, profile):
    """Reading records exactly, with their bytes, costs a bounded multiple of splitting and `float`."""
    step, (_, most) = profile.step[profile.unit], profile.limits[profile.unit]
    values = [step * (number % int(most / step)) for number in range(RECORDS)]
    stream = b"".join(encode(profile, value) for value in values)
    chunks = [stream[start : start + CHUNK] for start in range(0, len(stream), CHUNK)]
    lines = b"\n".join(b"%+08.2f MM" % float(value) for value in values)

    records = benchmark(decode, profile, chunks)

    assert [record.value for record in records] == values
    if benchmark.enabled:
        ratio = times(lambda: decode(profile, chunks), lambda: floor(lines))
        rate = RECORDS / benchmark.stats.stats.min
        benchmark.extra_info |= {"records_per_second": round(rate), "times_floor": round(ratio, 1)}
        target(f"decoder, {profile.name}", rate, 200_000, "records/s", least=True)
        assert ratio <= MOST_TIMES_FLOOR


NOISE = {
    "damaged": b"+00#5.40 MM\r\n",
    "blanks": b"1" + b" " * 60 + b"x\r\n",
    "other letters": b"\xab\xcd\r\n",
}


@pytest.mark.parametrize("line", NOISE.values(), ids=NOISE.keys())
def test_noise_costs_no_more_than_records(benchmark, target, line):
    """Refusing a flood of bad lines is no slower than reading good ones, so noise cannot stall a bench."""
    profile = load_profile("text-line")
    good = encode(profile, Decimal("25.40")) * RECORDS
    bad = line * RECORDS

    records = benchmark(decode, profile, [bad])

    assert not any(isinstance(record, Reading) for record in records)
    assert len(records) == RECORDS
    if benchmark.enabled:
        ratio = times(lambda: decode(profile, [bad]), lambda: decode(profile, [good]))
        benchmark.extra_info["times_good_records"] = round(ratio, 2)
        target(f"noise, {line[:4]!r}..., against good records", ratio, 1.5)
        assert ratio <= 1.5
