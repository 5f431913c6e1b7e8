"""Plans edited as text: comments and layout kept, and nothing written that reading would refuse."""

import datetime as dt
import difflib
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa.characteristics import kinds
from qa.errors import PlanError
from qa.plans.changes import changes as changes_of
from qa.plans.edit import PLAN, added, edited, removed, revised, table_of, typed_in
from qa.plans.plan import read_plan, survey
from qa.starter import STARTERS, starter_plan

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


def set_in(text, section):
    """What the fields of a section show, those that are not set left out."""
    return {item.id: item.text for item in table_of(text, section, "guitar.toml") if item.text}


def test_fields_are_told_as_they_are_written():
    """Each number with its digits, a pair as one field, a place as two; and what could be added."""
    taper = SIZE.replace("thickness", "taper")
    assert set_in(TEXT, "tail-block") == {
        "parts.tail-block.title": "Tail block",
        f"{SIZE}.kind": "thickness",
        f"{SIZE}.target": "22.00",
        f"{SIZE}.tolerance": "-0.10 to 0.20",
        f"{SIZE}.stations.top#0": "0",
        f"{SIZE}.stations.top#1": "74",
        f"{SIZE}.stations.bottom#0": "0",
        f"{SIZE}.stations.bottom#1": "0",
        f"{taper}.kind": "taper",
        f"{taper}.of": "thickness",
        f"{taper}.limit": "0.15",
    }
    could = {item.id for item in table_of(TEXT, "tail-block", "guitar.toml")}
    assert {"parts.tail-block.species", "parts.tail-block.jaw_give", f"{SIZE}.confidence"} <= could
    whole = table_of(TEXT, PLAN, "guitar.toml")
    assert {"since", "unit", "reference.glue_rh_percent", "reference.temp_c"} <= {item.id for item in whole}
    assert {"grain", "mates", "blank"} <= {
        table.path[-1] for table in table_of(TEXT, "tail-block", "guitar.toml").tables
    }


@pytest.mark.parametrize("kind", sorted(kinds()))
def test_every_kind_tells_the_keys_it_reads(kind):
    """Filled in one by one from nothing, until reading has no more to ask: the form can write every kind."""
    text = added(TEXT, ("parts", "tail-block", "characteristics"), "new", "guitar.toml", kind)
    here = "parts.tail-block.characteristics.new"
    usual = {
        "of": "thickness",
        "tolerance": "0.1",
        "lower": "",
        "upper": "",
        "width_of_face": "",
        "flat_least": "",
    }
    for _ in range(3):
        table = table_of(text, "tail-block", "guitar.toml")
        empty = [item for item in table if item.key.startswith(here) and not item.text]
        wanted = {item.id: usual.get(item.path[-1], "10") for item in empty if not item.asked.usual}
        text = typed_in(text, "tail-block", "guitar.toml", wanted)
        missing = [p.key for p in survey(text, "guitar.toml").problems if p.why.startswith("is missing")]
        if f"{here}.stations" in missing:
            for number, place in enumerate((["0", "0"], ["9", "0"], ["0", "9"], ["9", "9"])):
                where = (*here.split("."), "stations")
                text = added(text, where, f"s{number}", "guitar.toml")
                at = {f"{here}.stations.s{number}#{axis}": place[axis] for axis in (0, 1)}
                text = typed_in(text, "tail-block", "guitar.toml", at)
                if kind == "straightness" and number == 2:
                    break
    told = [problem for problem in survey(text, "guitar.toml").problems if problem.key.startswith(here)]
    if kind == "straightness":
        assert [problem.key for problem in told] == [f"{here}.stations"]
    elif kind == "twist":
        assert "cannot be told" in told[0].why
    else:
        assert told == []


def test_what_is_not_changed_stays_to_the_letter():
    """All fields sent back as they were give the same text."""
    fields = table_of(TEXT, "tail-block", "guitar.toml")
    assert edited(TEXT, "tail-block", "guitar.toml", {item.id: item.text for item in fields}) == TEXT


@pytest.mark.parametrize(
    ("field", "typed", "line"),
    [
        (f"{SIZE}.target", "22.5", "+target = 22.5      # as drawn"),
        (f"{SIZE}.target", "7/8 in", '+target = "7/8 in"      # as drawn'),
        (f"{SIZE}.tolerance", "-0.10 to 0.250", "+tolerance = [-0.10, 0.250]"),
        (f"{SIZE}.tolerance", "\N{MINUS SIGN}0.2 to 0.20", "+tolerance = [-0.2, 0.20]"),
        (f"{SIZE}.tolerance", "0.2", "+tolerance = 0.2"),
        ("parts.tail-block.jaw_give", "0.02", "+jaw_give = 0.02"),
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
        ({f"{SIZE}.tolerance": "0.3 to 0.2"}, [f"{SIZE}.tolerance"]),
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
        table_of(TEXT, "tale-block", "guitar.toml")
    with pytest.raises(PlanError, match="not valid TOML"):
        table_of("model = ", "tail-block", "guitar.toml")


def test_a_revision_is_the_same_plan_from_a_day_on():
    """One line more, below the model and its unit; a later revision of it has another day in that line."""
    first = revised(TEXT, "guitar.toml", dt.date(2026, 1, 5))
    assert changed_lines(TEXT, first) == ["+since = 2026-01-05"]
    assert read_plan(first, "guitar.toml").since == dt.date(2026, 1, 5)
    second = revised(first, "guitar.toml", dt.date(2026, 3, 1))
    assert changed_lines(first, second) == ["-since = 2026-01-05", "+since = 2026-03-01"]


@settings(max_examples=30)
@given(data=st.data(), starter=st.sampled_from(sorted(STARTERS)))
def test_one_field_edited_leaves_all_else_byte_for_byte(data, starter):
    """In any starter plan, with its comments and columns, whatever is typed."""
    text = starter_plan(starter)
    section = data.draw(st.sampled_from([PLAN, *tomllib.loads(text)["parts"]]))
    field = data.draw(st.sampled_from([item for item in table_of(text, section, "x.toml") if item.text]))
    typed = data.draw(st.text(min_size=1).filter(str.strip))
    after = typed_in(text, section, "x.toml", {field.id: typed}).split("\n")
    before = text.split("\n")

    touched = [place for place, (was, now) in enumerate(zip(before, after, strict=True)) if was != now]
    assert len(touched) <= 1
    for place in touched:
        was, now = before[place].partition("#"), after[place]
        assert now.startswith(was[0].partition("=")[0].rstrip())
        assert now.endswith(was[1] + was[2])


PART = ("parts", "tail-block")


@pytest.mark.parametrize(
    ("path", "name", "lines"),
    [
        (("parts",), "Stegklotz", ["+", "+[parts.Stegklotz]", '+title = "Stegklotz"']),
        (("parts",), "上駒", ["+", '+[parts."上駒"]', '+title = "上駒"']),
        (
            (*PART, "characteristics"),
            "flat",
            ["+", f"+[{'.'.join(PART)}.characteristics.flat]", '+kind = "gap"'],
        ),
        ((*PART, "mates"), "mould", ["+", f"+[{'.'.join(PART)}.mates.mould]"]),
        ((*PART, "blank"), "thickness", ["+", f"+[{'.'.join(PART)}.blank.thickness]"]),
        ((*PART, "grain"), "thickness", ['+grain = { thickness = "" }']),
        (
            (*PART, "characteristics", "thickness", "stations"),
            "mid dle",
            ['+stations = { top = [0, 74], bottom = [0, 0], "mid dle" = ["", ""] }  # y grows upwards'],
        ),
    ],
)
def test_what_is_added_stands_with_its_like_and_goes_without_a_trace(path, name, lines):
    """Nothing else is touched, and removing it gives the first text again, but for the blank lines."""
    after = added(TEXT, path, name, "guitar.toml", "gap")
    assert [line for line in changed_lines(TEXT, after) if line[0] == "+"] == lines
    gone = removed(after, (*path, name), "guitar.toml")
    assert [line for line in changed_lines(TEXT, gone) if line not in ("+", "-")] == []


@pytest.mark.parametrize("name", ["", "  ", "a.b", "thickness", "new\nline", "x" * 81])
def test_a_name_that_cannot_be_used_is_refused(name):
    """None, one with a full stop, one there already, one of two lines, one too long."""
    with pytest.raises(PlanError) as told:
        added(TEXT, (*PART, "characteristics"), name, "guitar.toml", "gap")
    assert told.value.problems[0].key == f"{'.'.join(PART)}.characteristics"


def test_what_is_removed_takes_its_own_comments_only():
    """The comment above the next table stays with that one."""
    text = TEXT.replace(
        "[parts.tail-block.characteristics.taper]", "# of the taper\n[parts.tail-block.characteristics.taper]"
    )
    text += "# the brace\n[parts.brace]\n[parts.brace.characteristics]\n"
    after = removed(text, (*PART, "characteristics", "taper"), "guitar.toml")
    assert "# of the taper" not in after
    assert after.endswith("# y grows upwards\n# the brace\n[parts.brace]\n[parts.brace.characteristics]\n")


def test_a_key_that_another_kind_does_not_know_is_still_there_to_be_taken_out():
    """Changing a kind loses nothing by itself; reading names what does not belong."""
    changed = typed_in(TEXT, "tail-block", "guitar.toml", {f"{SIZE}.kind": "offset"})
    keys = {problem.key for problem in survey(changed, "guitar.toml").problems}
    assert {f"{SIZE}.target", f"{SIZE}.tolerance", f"{SIZE}.stations"} <= keys
    left = typed_in(changed, "tail-block", "guitar.toml", {f"{SIZE}.target": ""})
    assert f"{SIZE}.target" not in {problem.key for problem in survey(left, "guitar.toml").problems}


def test_tables_written_otherwise_are_changed_too_or_refused():
    """Inline tables and texts of several lines; a table torn in two is for a text editor, and said so."""
    inline = 'model = "x"\nparts = { a = { characteristics = { w = { kind = "width", target = 8 } } } }\n'
    changed = typed_in(inline, "a", "x.toml", {"parts.a.characteristics.w.tolerance": "0.1"})
    assert tomllib.loads(changed)["parts"]["a"]["characteristics"]["w"]["tolerance"] == 0.1
    lines = TEXT.replace('"Tail block"', "'''\n[parts.no]\n# no comment\n'''")
    assert "\nspecies = " in typed_in(lines, "tail-block", "x.toml", {"parts.tail-block.species": "ebony"})
    dotted = 'model = "x"\nparts.a.title = "A"\nparts.a.characteristics.w.kind = "width"\n'
    with pytest.raises(PlanError, match="text editor"):
        typed_in(dotted, "a", "x.toml", {"parts.a.species": "ebony"})


def test_changes_are_told_place_by_place():
    """A value with what it was; something new or gone by its name alone."""
    after = added(TEXT, (*PART, "mates"), "mould", "guitar.toml")
    after = removed(after, (*PART, "characteristics", "taper"), "guitar.toml")
    after = typed_in(after, "tail-block", "guitar.toml", {f"{SIZE}.stations.top#1": "75"})
    told = [
        (item.path[-1], item.index, item.was, item.now, item.came) for item in changes_of(TEXT, after, "x")
    ]
    assert told == [
        ("mould", None, None, None, True),
        ("top", 1, "74", "75", False),
        ("taper", None, None, None, False),
    ]
