"""Plans edited as text: comments and layout kept, and nothing written that reading would refuse."""

import datetime as dt
import difflib

import pytest

from qa.errors import PlanError
from qa.plans.edit import edited, fields_of, revised
from qa.plans.plan import read_plan

TEXT = """\
# The block that takes the strain.
model = "travel-guitar"  # ours
unit = "mm"

[reference]
rh_percent = 45

[parts.tail-block]
title = "Tail block"
[parts.tail-block.characteristics.thickness]
kind = "thickness"
target = 22.00      # as drawn
tolerance = [-0.10, 0.20]
stations = { top = [0, 74], bottom = [0, 0] }  # y grows upwards
[parts.tail-block.characteristics.taper]
kind = "taper"
of = "thickness"
limit = 0.15
"""
SIZE = "parts.tail-block.characteristics.thickness"


def changed_lines(before, after):
    """What a change made of the lines it touched."""
    told = difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
    return [line for line in told if line[:2] not in ("--", "++", "@@")]


def test_fields_are_told_as_they_are_written():
    """Title and species first, though one is missing; each number with its digits, each pair apart."""
    found = {item.id: item.text for item in fields_of(TEXT, "tail-block", "guitar.toml")}
    assert found == {
        "parts.tail-block.title": "Tail block",
        "parts.tail-block.species": "",
        f"{SIZE}.target": "22.00",
        f"{SIZE}.tolerance#0": "-0.10",
        f"{SIZE}.tolerance#1": "0.20",
        f"{SIZE}.stations.top#0": "0",
        f"{SIZE}.stations.top#1": "74",
        f"{SIZE}.stations.bottom#0": "0",
        f"{SIZE}.stations.bottom#1": "0",
        "parts.tail-block.characteristics.taper.limit": "0.15",
    }


def test_what_is_not_changed_stays_to_the_letter():
    """All fields sent back as they were give the same text."""
    fields = fields_of(TEXT, "tail-block", "guitar.toml")
    assert edited(TEXT, "tail-block", "guitar.toml", {item.id: item.text for item in fields}) == TEXT


@pytest.mark.parametrize(
    ("field", "typed", "line"),
    [
        (f"{SIZE}.target", "22.5", "+target = 22.5      # as drawn"),
        (f"{SIZE}.target", "7/8 in", '+target = "7/8 in"      # as drawn'),
        (f"{SIZE}.tolerance#1", "0.250", "+tolerance = [-0.10, 0.250]"),
        (f"{SIZE}.tolerance#0", "\N{MINUS SIGN}0.2", "+tolerance = [-0.2, 0.20]"),
        (
            f"{SIZE}.stations.top#1",
            "80",
            "+stations = { top = [0, 80], bottom = [0, 0] }  # y grows upwards",
        ),
        ("parts.tail-block.title", 'The "tail"', '+title = "The \\"tail\\""'),
        ("parts.tail-block.species", "black cherry", '+species = "black cherry"'),
    ],
)
def test_a_change_touches_its_own_line_only(field, typed, line):
    """Comments stay, and a number is written as a person typed it."""
    after = edited(TEXT, "tail-block", "guitar.toml", {field: typed})
    touched = changed_lines(TEXT, after)
    assert [text for text in touched if text[0] == "+" and text != "+"] == [line]
    assert sum(text[0] == "-" for text in touched) <= 1
    read_plan(after, "guitar.toml")


def test_lines_of_another_computer_keep_their_ends():
    """A file with carriage returns has them after a change too."""
    text = TEXT.replace("\n", "\r\n")
    after = edited(text, "tail-block", "guitar.toml", {f"{SIZE}.target": "23"})
    assert after == text.replace("22.00", "23")
    assert "since = 2026-01-05\r\n" in revised(text, "guitar.toml", dt.date(2026, 1, 5))


@pytest.mark.parametrize(
    ("changes", "keys"),
    [
        ({f"{SIZE}.target": "twenty"}, [f"{SIZE}.target"]),
        ({f"{SIZE}.target": ""}, [f"{SIZE}.target"]),
        ({f"{SIZE}.target": "007"}, []),
        ({f"{SIZE}.tolerance#0": "0.3"}, [f"{SIZE}.tolerance"]),
        ({f"{SIZE}.stations.top#1": "0"}, [f"{SIZE}.stations.bottom"]),
        (
            {f"{SIZE}.target": "-1", "parts.tail-block.characteristics.taper.limit": "0"},
            [f"{SIZE}.target", "parts.tail-block.characteristics.taper.limit"],
        ),
        (
            {"parts.tail-block.characteristics.taper.of": "width"},
            ["parts.tail-block.characteristics.taper.of"],
        ),
    ],
)
def test_what_reading_would_refuse_is_refused_with_its_field(changes, keys):
    """Every problem at once, each under the key of its field; leading noughts alone are no fault."""
    if not keys:
        assert '"007"' in edited(TEXT, "tail-block", "guitar.toml", changes)
        return
    with pytest.raises(PlanError) as told:
        edited(TEXT, "tail-block", "guitar.toml", changes)
    assert {problem.key for problem in told.value.problems} >= set(keys)


def test_a_part_that_is_not_there_and_a_file_that_is_no_plan():
    """Refused, with the parts there are."""
    with pytest.raises(PlanError, match="tail-block"):
        fields_of(TEXT, "tale-block", "guitar.toml")
    with pytest.raises(PlanError, match="not valid TOML"):
        fields_of("model = ", "tail-block", "guitar.toml")


def test_a_revision_is_the_same_plan_from_a_day_on():
    """One line more, below the model and its unit; a later revision of it has another day in that line."""
    first = revised(TEXT, "guitar.toml", dt.date(2026, 1, 5))
    assert changed_lines(TEXT, first) == ["+since = 2026-01-05"]
    assert read_plan(first, "guitar.toml").since == dt.date(2026, 1, 5)
    second = revised(first, "guitar.toml", dt.date(2026, 3, 1))
    assert changed_lines(first, second) == ["-since = 2026-01-05", "+since = 2026-03-01"]
