"""Bytes to readings: house rules over every shipped profile, and what each kind of layout guards."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.errors import DriverError
from drivers.frames import BadRecord, Decoder, Reading, encode, load_profile, profiles
from drivers.profile import BcdLayout, BinaryLayout, TextLayout

PROFILES = {name: load_profile(name) for name in profiles()}
every_profile = pytest.mark.parametrize("profile", PROFILES.values(), ids=PROFILES.keys())
FRAMED = {name: each for name, each in PROFILES.items() if not isinstance(each.layout, TextLayout)}
every_framed = pytest.mark.parametrize("profile", FRAMED.values(), ids=FRAMED.keys())
STRICT = {name: PROFILES[name] for name in (*FRAMED, "text-columns")}
DIGITS = b"0123456789"
every_strict = pytest.mark.parametrize("profile", STRICT.values(), ids=STRICT.keys())


def steps(profile):
    """Values the instrument can show, with their unit."""

    def values(unit):
        step, (low, high) = profile.step[unit], profile.limits[unit]
        return st.integers(int(low / step), int(high / step)).map(lambda n: (n * step, unit))

    return st.sampled_from(list(profile.step)).flatmap(values)


def whole(profile, data):
    """Everything a decoder says about `data` as a whole stream."""
    decoder = Decoder(profile)
    return decoder.feed(data) + decoder.flush()


def said(records):
    return [(each.value, each.unit) for each in records if isinstance(each, Reading)]


def pieces(data, cuts):
    ends = sorted({0, len(data), *(cut % (len(data) + 1) for cut in cuts)})
    return [data[a:b] for a, b in pairwise(ends)]


@every_profile
@given(data=st.data())
def test_what_is_encoded_is_decoded(profile, data):
    """Any run of values comes back as the same values, in order, and nothing else."""
    values = data.draw(st.lists(steps(profile), max_size=20))

    records = whole(profile, b"".join(encode(profile, *each) for each in values))

    assert records == [each for each in records if isinstance(each, Reading)]
    assert said(records) == values


@every_profile
@given(data=st.data())
def test_any_chunking_gives_the_same_list(profile, data):
    """How bytes happen to arrive changes nothing, with noise and damage among the records too."""
    record = steps(profile).map(lambda each: encode(profile, *each))
    damaged = st.tuples(record, st.integers(0, 20)).map(lambda pair: pair[0][: pair[1]])
    noise = st.binary(max_size=12) | st.just(b"1" * 300) | st.just(b"\x0f" * 5) | st.just(b"\r\n\n")
    stream = b"".join(data.draw(st.lists(record | damaged | noise, max_size=12)))
    cuts = data.draw(st.lists(st.integers(0, 10_000), max_size=30))
    midway = data.draw(st.booleans())

    lists = []
    for chunks in ([stream], pieces(stream, cuts), [bytes([byte]) for byte in stream]):
        decoder = Decoder(profile)
        if midway:
            decoder.distrust()
        lists.append([each for chunk in chunks for each in decoder.feed(chunk)] + decoder.flush())

    assert lists[0] == lists[1] == lists[2]


@every_profile
@given(stream=st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(profile, stream):
    """No bytes make the decoder raise, and it gives nothing but readings and bad records with a reason."""
    for each in whole(profile, stream):
        assert isinstance(each, Reading) or (isinstance(each, BadRecord) and each.why)


@every_profile
@pytest.mark.parametrize("byte", [b"\x00", b"0", b"\x0f", b"\x80", b"\xff", b" "])
def test_endless_noise_is_bounded_and_then_over(profile, byte):
    """A stream without any end of record costs one record of memory, and the next good record is read."""
    decoder = Decoder(profile)
    longest = 0
    for _ in range(300):
        decoder.feed(byte * 100)
        longest = max(longest, len(decoder.pending))
    end = profile.layout.terminators[:1] if isinstance(profile.layout, TextLayout) else b""
    records = decoder.feed(end + encode(profile, profile.step[profile.unit] * 7))

    assert longest <= 256
    assert said(records) == [(profile.step[profile.unit] * 7, profile.unit)]


@every_profile
def test_half_a_record_is_dropped_with_a_note(profile):
    """At a reconnect the record under way becomes a bad record, and the next one is read by itself."""
    value = profile.step[profile.unit] * 25
    sent = encode(profile, value)
    for cut in range(1, len(sent.rstrip(b"\r\n"))):
        decoder = Decoder(profile)
        assert decoder.feed(sent[:cut]) == []
        assert decoder.pending == sent[:cut]
        assert decoder.flush("unplugged") == [BadRecord(sent[:cut], "unplugged")]
        assert decoder.flush() == []
        assert said(decoder.feed(sent)) == [(value, profile.unit)]


@every_profile
def test_the_middle_of_a_record_is_never_read(profile):
    """A line opened in the middle of a record gives that rest as bad, whatever it looks like."""
    first, second = profile.step[profile.unit] * 2540, profile.step[profile.unit] * 12
    if first > profile.limits[profile.unit][1]:
        first = profile.step[profile.unit] * 254
    sent = encode(profile, first)
    for cut in range(1, len(sent.rstrip(b"\r\n"))):
        decoder = Decoder(profile)
        decoder.distrust()
        records = decoder.feed(sent[cut:] + encode(profile, second))
        assert said(records) == [(second, profile.unit)]
        assert isinstance(records[0], BadRecord)


@every_profile
def test_records_carry_their_bytes_and_time(profile):
    """Every record keeps what was sent and when it arrived."""
    at = datetime(2024, 5, 1, 9, 30, tzinfo=UTC)
    sent = encode(profile, profile.step[profile.unit])
    (record,) = Decoder(profile).feed(sent, at)
    assert record.at == at
    assert record.raw == sent.rstrip(b"\r\n")


@every_profile
def test_what_is_not_plausible_is_refused(profile):
    """A value beyond the profile's limits is a bad record that says so."""
    unit = profile.unit
    sent = encode(profile, profile.step[unit] * 50)
    strict = replace(profile, limits={each: (Decimal(0), profile.step[each]) for each in profile.step})
    (record, *_) = Decoder(strict).feed(sent)
    assert isinstance(record, BadRecord)
    assert "not plausible" in record.why


@every_profile
def test_encode_refuses_what_cannot_be_sent(profile):
    """Values out of limits, between steps or in a foreign unit are refused, not rounded."""
    for value, unit in [
        (profile.limits[profile.unit][1] + 1, profile.unit),
        (profile.step[profile.unit] / 3, profile.unit),
        (Decimal("NaN"), profile.unit),
        (Decimal(1), "furlong"),
    ]:
        with pytest.raises(DriverError):
            encode(profile, value, unit)


@every_framed
@given(data=st.data())
def test_framed_streams_are_cut_without_loss(profile, data):
    """Every byte of a framed stream is in exactly one reading or bad record."""
    record = steps(profile).map(lambda each: encode(profile, *each))
    stream = b"".join(data.draw(st.lists(record | st.binary(max_size=20), max_size=10)))
    assert b"".join(each.raw for each in whole(profile, stream)) == stream


@every_framed
@given(data=st.data())
def test_noise_does_not_cost_the_next_record(profile, data):
    """After noise without a header in it, the next good record is read."""
    header = Decoder(profile)._records._header[:1]
    noise = data.draw(st.binary(max_size=40)).replace(header, b"")
    value, unit = data.draw(steps(profile))
    assert said(whole(profile, noise + encode(profile, value, unit))) == [(value, unit)]


@every_strict
@given(data=st.data())
def test_a_lost_byte_is_always_noticed(profile, data):
    """A record that lost a byte, its head or its tail is refused with a note; its neighbours are read."""
    values = [data.draw(steps(profile)) for _ in range(3)]
    before, hurt, after = (encode(profile, *each) for each in values)
    cut = data.draw(st.integers(0, len(hurt.rstrip(b"\r\n")) - 1))
    tail = b"\r" if isinstance(profile.layout, TextLayout) else b""
    for rest in (hurt[:cut] + hurt[cut + 1 :], hurt[:cut] + tail, hurt[cut + 1 :]):
        records = whole(profile, before + rest + after)
        assert said(records) == [values[0], values[2]]
        assert len(records) > 2 or not rest.strip()


def unguarded(profile, was, became, place, bit):
    """Whether nothing in the format betrays the flip: one digit becomes another, or a sign is lost."""
    layout = profile.layout
    if isinstance(layout, BinaryLayout):
        return False
    if isinstance(layout, BcdLayout):
        group = place * 2 + (bit < 4) if layout.packed else place
        number = became >> 4 if layout.packed and bit > 3 else became & 15 if layout.packed else became
        digit, sign = group in layout.digits and number < 10, group == layout.sign
        return digit or (sign and number in (layout.plus, layout.minus))
    loose = profile.name not in STRICT
    return (was in DIGITS and became in DIGITS) or (loose and was in b"-" and became in layout.terminators)


@every_profile
@settings(max_examples=30)
@given(data=st.data())
def test_every_flipped_bit_is_noticed_where_the_format_can(profile, data):
    """The right reading, or none and a note; another one only where one digit or sign became another."""
    values = [data.draw(steps(profile)) for _ in range(2)]
    sent, after = (encode(profile, *each) for each in values)
    for place, bit in product(range(len(sent)), range(8)):
        damaged = bytearray(sent)
        damaged[place] ^= 1 << bit
        records = whole(profile, bytes(damaged) + after)
        read = said(records)
        if read[-1:] == values[1:]:
            read.pop()
        else:
            assert sent[place] in b"\r\n", "the next record may be lost only with the end of this one"
        assert len(read) < 2
        assert read in ([], values[:1]) or unguarded(profile, sent[place], damaged[place], place, bit)
        assert read or any(isinstance(each, BadRecord) and each.why for each in records)


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b"\xab0025.40 \xcd\xcd", "parity"),
        (b"+0025.40\x00MM", "control bytes"),
        (b"hello", "does not look like"),
        (b"9" * 65, "no end of record within 64"),
        (b"+9999.99 MM", "not plausible"),
        (b"+1,234.50 MM", "does not look like"),
        (b"+0025.40 DEG", "does not look like"),
    ],
)
def test_a_bad_line_says_what_is_wrong(line, why):
    """The reason points at the likely cause; the raw bytes stay with it."""
    (record,) = whole(PROFILES["text-line"], line + b"\r\n")
    assert isinstance(record, BadRecord)
    assert why in record.why
    assert line.startswith(record.raw)


@pytest.mark.parametrize(
    ("line", "value", "unit"),
    [
        (b"25.40", "25.40", "mm"),
        (b"  25,40  ", "25.40", "mm"),
        (b"- 0.02", "-0.02", "mm"),
        (b"+ 2.1380, IN", "2.1380", "in"),
        (b'1.250"', "1.250", "in"),
        (b"+01.0005 i", "1.0005", "in"),
        (b".085 in", "0.085", "in"),
        (b"1 000.00mm", "1000.00", "mm"),
    ],
)
@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n", b"\r\n\r\n"])
def test_text_lines_as_instruments_write_them(line, value, unit, end):
    """Padding, decimal comma, missing unit and any line end are read."""
    (record,) = whole(PROFILES["text-line"], line + end)
    assert str(record.value) == value
    assert record.unit == unit


def test_each_kind_of_layout_is_shipped():
    """The shipped profiles show every kind of layout once at least, and one that is asked for readings."""
    kinds = {type(each.layout) for each in PROFILES.values()}
    assert kinds == {TextLayout, BcdLayout, BinaryLayout}
    assert [name for name, each in PROFILES.items() if each.request] == ["polled-line"]
