"""Profiles as files: house rules for the shipped ones, every problem at once for bad ones."""

from __future__ import annotations

import re
import tomllib
from importlib import resources

import pytest
import tomlkit

from drivers.errors import ProfileError
from drivers.frames import Decoder, Reading, encode, load_profile, profiles
from drivers.profile import TextLayout

FOLDER = resources.files("drivers") / "profiles"


def source(name):
    return (FOLDER / f"{name}.toml").read_text()


@pytest.mark.parametrize("name", profiles())
def test_shipped_profiles_are_documented(name):
    """Each begins with its layout in plain words, says it is invented, and shows good and bad examples."""
    text = source(name)
    profile = load_profile(name)
    header = text.split("\ntitle = ")[0]
    assert all(line.startswith("#") for line in header.splitlines())
    assert "invented example layout" in " ".join(header.replace("#", "").lower().split())
    assert profile.name == name
    assert {example.value is None for example in profile.examples} == {True, False}


@pytest.mark.parametrize("name", profiles())
def test_examples_read_in_any_pieces_and_surroundings(name):
    """The examples of a profile hold whole, split at every byte, and between other records."""
    profile = load_profile(name)
    good = encode(profile, profile.step[profile.unit])
    for example in profile.examples:
        if example.value is None:
            continue
        for cut in range(len(example.sent) + 1):
            decoder = Decoder(profile)
            records = decoder.feed(good + example.sent[:cut]) + decoder.feed(example.sent[cut:] + good)
            assert [str(each.value) for each in records if isinstance(each, Reading)][1] == str(example.value)
            assert len(records) == 3


def test_a_new_instrument_is_one_file(tmp_path):
    """A file anywhere is a profile; no code knows its name."""
    path = tmp_path / "my-gauge.toml"
    path.write_text(source("text-columns").replace('"+0025.40MM', '"+0025.40MM'))
    assert load_profile(path).name == "my-gauge"
    assert load_profile(str(path)).name == "my-gauge"


def test_a_profile_can_only_ask_for_readings():
    """There is one kind of command in a profile; nothing that could zero an instrument has a place."""
    fields = set(load_profile("polled-line").__slots__)
    assert fields & {"request"} == {"request"}
    assert not {field for field in fields if re.search("zero|preset|command|send", field)}


def test_an_unknown_name_lists_the_shipped_ones():
    """A wrong name is answered with the right ones."""
    with pytest.raises(ProfileError, match="text-line"):
        load_profile("caliper")


def test_a_missing_or_broken_file_is_named(tmp_path):
    """A file that is not there or not TOML is named in the error."""
    with pytest.raises(ProfileError, match="cannot be read"):
        load_profile(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_text("title = ")
    with pytest.raises(ProfileError, match="is not TOML"):
        load_profile(tmp_path / "bad.toml")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(ProfileError, match="is not TOML"):
        load_profile(tmp_path / "bytes.toml")


def test_every_problem_is_listed_at_once(tmp_path):
    """Four mistakes give four lines, each with file and key."""
    text = source("text-line").replace("baud = 9600", 'baud = "fast"').replace('parity = "none"', "")
    text = text.replace("longest = 64", "longest = 0\nlength = 3").replace('mm = "0.01"', 'mm = "nan"')
    path = tmp_path / "four.toml"
    path.write_text(text)

    with pytest.raises(ProfileError) as caught:
        load_profile(path)

    problems = caught.value.problems
    assert all(problem.startswith("four.toml: ") for problem in problems)
    assert {problem.split(": ")[1] for problem in problems} == {
        "line.baud",
        "line.parity",
        "text.longest",
        "text.length",
        "step.mm",
    }


WRONG = [
    ("text-line", 'kind = "text"', 'kind = "morse"', "kind"),
    ("text-line", 'unit = "mm"', 'unit = "deg"', "unit"),
    ("text-line", "mm = [-1000, 1000]", "mm = [1000, -1000]", "limits.mm"),
    ("text-line", "mm = [-1000, 1000]", 'mm = ["x", 1000]', "limits.mm"),
    ("text-line", ', in = "0.0005" }', " }", "step.in"),
    ("text-line", "(?P<number>", "(?P<digits>", "text.pattern"),
    ("text-line", "(?P<number>", "((?P<number>", "text.pattern"),
    ("text-line", 'terminators = ["\\r", "\\n"]', "terminators = []", "text.terminators"),
    ("text-line", "{number}", "{value}", "text.written"),
    ("text-line", 'unit}\\r\\n"', 'unit}"', "text.written"),
    ("text-line", 'reads = "25.40 mm"', 'reads = "25.41 mm"', "examples[1]"),
    ("text-line", 'reads = "25.40 mm"', 'reads = "much"', "examples[1].reads"),
    ("text-line", 'text = "+0025.40 MM\\r\\n"', 'text = "€"', "examples[1].text"),
    ("bcd-13", "point = 11", "point = 10", "bcd.digits"),
    ("bcd-13", "minus = 8", "minus = 0", "bcd.minus"),
    ("bcd-13", "units = { mm = 0, in = 1 }", "units = {}", "bcd.units"),
    ("bcd-13-packed", "header = [15, 15, 15, 15]", "header = [15, 15, 15]", "bcd.header"),
    ("bcd-13", "groups = 13", "groups = true", "bcd.groups"),
    ("binary-24", "zeros = [22]", "zeros = [20]", "binary.count"),
    ("binary-24", "count = [1, 20]", "count = [1]", "binary.count"),
    ("binary-24", "header = [0x80]", "header = []", "binary.header"),
    ("binary-24", "header = [0x80]", "header = [256]", "binary.header"),
    ("binary-24", "[binary]", "[bits]", "binary"),
]


@pytest.mark.parametrize(
    ("name", "right", "wrong", "key"), WRONG, ids=[f"{w[3]}-{n}" for n, w in enumerate(WRONG)]
)
def test_each_mistake_is_found_at_its_key(tmp_path, name, right, wrong, key):
    """A mistake in a profile is named by the key it is in."""
    text = source(name)
    assert right in text
    path = tmp_path / "gauge.toml"
    path.write_text(text.replace(right, wrong, 1))
    with pytest.raises(ProfileError) as caught:
        load_profile(path)
    assert any(key in problem for problem in caught.value.problems), caught.value.problems


def test_a_sloppy_pattern_still_never_raises(tmp_path):
    """A pattern that lets nonsense through as a number gives bad records, not exceptions."""
    lines = source("text-columns").splitlines()
    sloppy = ["pattern = '''x|(?P<number>.*)'''" if line.startswith("pattern") else line for line in lines]
    path = tmp_path / "sloppy.toml"
    path.write_text(
        "\n".join(sloppy).split("[[examples]]")[0] + '[[examples]]\ntext = "1\\r"\nreads = "1 mm"\n'
    )
    profile = load_profile(path)
    assert isinstance(profile.layout, TextLayout)
    for line in (b"x", b"nan", b"sNaN", b"inf", b"1e999999", b"1.2.3", b"\xb2", b"-"):
        (record,) = Decoder(profile).feed(line + b"\r")
        assert not isinstance(record, Reading)


def changed(tmp_path, name, *swaps):
    """A shipped profile with lines replaced and only the example given last."""
    text, *_ = source(name).partition("[[examples]]")
    *swaps, example = swaps
    for right, wrong in swaps:
        assert right in text
        text = text.replace(right, wrong, 1)
    path = tmp_path / "other.toml"
    path.write_text(f"{text}[[examples]]\n{example}\n")
    return load_profile(path)


def test_a_layout_with_the_least_digit_first_and_spare_groups(tmp_path):
    """Digit order and spare groups are a matter of the file; a spare that is set is noticed."""
    profile = changed(
        tmp_path,
        "bcd-13",
        ("groups = 13", "groups = 14"),
        ("digits = [5, 6, 7, 8, 9, 10]", "digits = [10, 9, 8, 7, 6, 5]"),
        ("sign = 4\nplus = 0\nminus = 8\n", ""),
        "bytes = [15, 15, 15, 15, 0, 0, 4, 5, 2, 0, 0, 2, 0, 0]\nreads = '25.40 mm'",
    )
    for spare in (4, 13):
        frame = bytearray([15, 15, 15, 15, 0, 0, 4, 5, 2, 0, 0, 2, 0, 0])
        frame[spare] = 1
        decoder = Decoder(profile)
        assert not any(isinstance(each, Reading) for each in decoder.feed(bytes(frame)) + decoder.flush())


def test_three_plain_bytes_without_a_check(tmp_path):
    """The 24 bits as three bytes: only the bits that never change are left to guard them, and they do."""
    profile = changed(
        tmp_path,
        "binary-24",
        ("bits_per_byte = 7", "bits_per_byte = 8"),
        ('check = "xor"', 'check = "none"'),
        ("inch = 23\n", ""),
        "bytes = [0x80, 0xD9, 0x13, 0x00]\nreads = '25.40 mm'",
    )
    for wrong in ([0x80, 0xD8, 0x13, 0x00], [0x80, 0xD9, 0x13, 0x40]):
        decoder = Decoder(profile)
        assert not any(isinstance(each, Reading) for each in decoder.feed(bytes(wrong)) + decoder.flush())


def test_bits_that_no_byte_has(tmp_path):
    """With fewer bits to a byte, a byte with more is no record, even where the check byte agrees."""
    profile = changed(
        tmp_path, "binary-24", "bytes = [0x80, 0x59, 0x27, 0x00, 0x00, 0x7E]\nreads = '25.40 mm'"
    )
    decoder = Decoder(profile)
    records = decoder.feed(bytes([0x80, 0x59, 0xA7, 0x80, 0x00, 0x7E])) + decoder.flush()
    assert not any(isinstance(each, Reading) for each in records)


def places(data, path=()):
    """Every key of a profile, as the way to it."""
    for key, value in data.items():
        yield (*path, key)
        if isinstance(value, dict):
            yield from places(value, (*path, key))


@pytest.mark.parametrize("name", ["polled-line", "bcd-13", "binary-24"])
def test_any_wrong_value_anywhere_is_an_answer_not_a_crash(tmp_path, name):
    """Whatever stands at a key, the profile loads and decodes, or ProfileError names the file."""
    wrong = [
        None,
        "",
        "x",
        0,
        -1,
        255,
        10**9,
        1.5,
        float("nan"),
        True,
        [],
        [0],
        [9, 1],
        ["x"],
        {},
        {"mm": 1},
        [{}],
    ]
    path = tmp_path / "gauge.toml"
    refused = []
    for way in places(tomllib.loads(source(name))):
        for value in wrong:
            data = tomllib.loads(source(name))
            table = data
            for key in way[:-1]:
                table = table[key]
            table.pop(way[-1])
            if value is not None:
                table[way[-1]] = value
            path.write_text(tomlkit.dumps(data))
            try:
                decoder = Decoder(load_profile(path))
            except ProfileError as error:
                refused.append(error.problems)
            else:
                decoder.feed(bytes(range(256)) * 2 + b"\x80Y'\x00\x00~" + b"+0025.40 MM\r")
    assert len(refused) > 200
    assert all(problems for problems in refused)
    assert all(problem.startswith("gauge.toml: ") for problems in refused for problem in problems)
