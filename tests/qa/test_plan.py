"""Plans are read whole or refused with every problem at once, each with its file, line and key."""

import string
from datetime import date

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from qa.errors import PlanError, PlanProblem, ShopError
from qa.plans.plan import Plan, load_plan, read_plan


def problems(text):
    """The problems of a plan's text, by key."""
    with pytest.raises(PlanError) as caught:
        read_plan(text, "p.toml")
    return {problem.key: problem for problem in caught.value.problems}


def changed(text, old, new):
    """The text with one place changed."""
    assert text.count(old) >= 1
    return text.replace(old, new, 1)


def test_a_plan_is_read(plan):
    """Parts, limits in whole nanometres, stations, and what to read in which order."""
    part = plan.part("tail-block")
    thickness = part.characteristics["thickness"]
    assert (plan.model, plan.reference.rh_percent, plan.reference.glue_rh_percent) == (
        "parlour-guitar", 45.0, (40.0, 50.0),
    )  # fmt: skip
    assert (thickness.target, thickness.lower, thickness.upper) == (18_000_000, 17_850_000, 18_150_000)
    assert [(c.name, s.name) for c, s in part.to_read()] == [
        ("thickness", "bottom-left"), ("thickness", "bottom-right"), ("thickness", "top-left"),
        ("thickness", "top-right"), ("squareness", ""),
    ]  # fmt: skip
    assert part.stations(part.characteristics["taper"]) == thickness.stations
    assert part.grain["width"] == "tangential"


def test_limits_in_inches_are_exact(plan_text):
    """An inch is 25.4 mm; a tolerance beside it may be in millimetres."""
    text = changed(plan_text, "target = 18.0", 'target = "3/4 in"')
    thickness = read_plan(text, "p.toml").part("tail-block").characteristics["thickness"]
    assert (thickness.lower, thickness.upper) == (18_900_000, 19_200_000)
    text = changed(text, 'unit = "mm"', 'unit = "in"').replace("tolerance = 0.15", "tolerance = 0.005", 1)
    thickness = read_plan(text, "p.toml").part("tail-block").characteristics["thickness"]
    assert (thickness.lower, thickness.upper) == (19_050_000 - 127_000, 19_050_000 + 127_000)


def test_the_digest_names_the_revision(plan_text, plan):
    """Any change of the text is another revision; the same text is the same one."""
    assert read_plan(plan_text, "other.toml").digest == plan.digest
    assert read_plan(plan_text + "\n", "p.toml").digest != plan.digest


def test_a_part_not_in_the_plan_names_the_near_ones(plan):
    """A slip of the finger is answered with what was meant."""
    with pytest.raises(ShopError, match=r"tail-blok.*known: tail-block"):
        plan.part("tail-blok")


@pytest.mark.parametrize(
    ("old", "new", "key", "why"),
    [
        ('model = "parlour-guitar"', "", "model", "missing"),
        ('model = "parlour-guitar"', "model = 7", "model", "must be text"),
        ('unit = "mm"', 'unit = "cm"', "unit", "must be 'mm' or 'in'"),
        ('unit = "mm"', 'unit = "mm"\nsince = "soon"', "since", "must be a date"),
        ("rh_percent = 45", "rh_percent = 145", "reference.rh_percent", "between 0 and 100"),
        ("[40, 50]", "[50, 40]", "reference.glue_rh_percent", r"\[low, high\]"),
        ('"radial"', '"sideways"', "/grain.thickness", "must be one of"),
        ('kind = "taper"', 'kind = "tapr"', "*taper.kind", "taper"),
        ('of = "thickness"', 'of = "thicknes"', "*taper.of", "known: thickness"),
        ("tolerance = 0.15", "tolerance = 0", "*thickness.tolerance", "above zero"),
        (
            "tolerance = 0.15", "tolerance = [0.2, -0.1]",
            "*thickness.tolerance", "upside down",
        ),
        ("tolerance = 0.15", "tolerence = 0.15", "*thickness.tolerence", "did you mean"),
        ("target = 18.0", "target = 0", "*thickness.target", "above zero"),
        ("target = 18.0", "target = nan", "*thickness.target", "not a number"),
        ("target = 18.0", 'target = "18 ft"', "*thickness.target", "feet"),
        ("limit = 0.10", "limit = 0", "*taper.limit", "above zero"),
        ("limit = 0.10", "", "*taper.limit", "missing"),
        (
            "top-left = [0, 90]", "top-left = [0, 0]",
            "*thickness.stations.top-left", "same place as station 'bottom-left'",
        ),
        (
            "top-left = [0, 90]", "top-left = [0]",
            "*thickness.stations.top-left", r"must be \[x, y\]",
        ),
        ('species = "spanish cedar"', "species = 3", "/species", "must be text"),
        ("top-left = [0, 90]", '"top.left" = [0, 90]', "*thickness.stations", "without a full stop"),
    ],
)  # fmt: skip
def test_each_slip_is_named_with_its_key_and_line(plan_text, old, new, key, why):
    """The file, the line and the key of what is wrong, and why."""
    text = changed(plan_text, old, new)
    key = key.replace("*", "parts.tail-block.characteristics.").replace("/", "parts.tail-block.")
    found = problems(text)
    assert key in found, found
    place = found[key]
    assert place.file == "p.toml"
    if new.strip():
        line = text.splitlines()[place.line - 1]
        assert new.split("\n")[-1].split("=")[0].strip() in line
    with pytest.raises(PlanError, match=why):
        read_plan(text, "p.toml")


def test_all_problems_are_told_at_once(plan_text):
    """Five slips in one file make five problems, none hidden behind another."""
    text = plan_text.replace("limit = 0.10", "limit = 0").replace("rh_percent = 45", "rh_percent = 450")
    text = text.replace('kind = "squareness"', 'kind = "squarenes"').replace("target = 1.9", "target = -1.9")
    text = text.replace('model = "parlour-guitar"', 'modell = "parlour-guitar"')
    assert {"model", "modell", "reference.rh_percent"} <= set(problems(text))
    assert len(problems(text)) >= 6


def test_a_station_given_twice_is_refused(plan_text):
    """TOML itself knows no key twice; the line is named."""
    text = changed(plan_text, "top-left = [0, 90]", "bottom-left = [0, 90]")
    (problem,) = problems(text).values()
    assert problem.line == text[: text.index("bottom-left = [0, 90]")].count("\n") + 1
    assert "not valid TOML at column" in problem.why


def test_a_taper_of_one_end_is_refused(plan_text):
    """A derived characteristic says what its size lacks."""
    text = (
        plan_text.replace(", 90]", ", 0]")
        .replace("top-left = [0", "top-left = [10")
        .replace("top-right = [60", "top-right = [70")
    )
    assert "two ends" in problems(text)["parts.tail-block.characteristics.taper.of"].why


def test_files_that_are_no_text(tmp_path):
    """Another encoding, or no file at all, is named as that."""
    path = tmp_path / "plan.toml"
    with pytest.raises(PlanError, match="cannot be read"):
        load_plan(path)
    path.write_bytes('model = "Gitarre für Ä"'.encode("latin-1"))
    with pytest.raises(PlanError, match="not UTF-8"):
        load_plan(path)
    path.write_bytes('model = "x"'.encode("utf-16"))
    with pytest.raises(PlanError, match="not UTF-8"):
        load_plan(path)


def test_a_byte_order_mark_is_no_fault(tmp_path, plan_text, plan):
    """Some editors begin UTF-8 with one."""
    path = tmp_path / "plan.toml"
    path.write_bytes(b"\xef\xbb\xbf" + plan_text.encode())
    assert load_plan(path).digest == plan.digest


@pytest.mark.parametrize(
    "text",
    [
        "", "[[parts]]\nname = 1", "parts = 3", "parts = {}", "x = " + "[" * 5000, "x = " + "9" * 5000,
        "since = 1979-05-27T07:32:00Z\nmodel='a'", "[parts.a]\ncharacteristics = []", "\x00", "a.b.c = 1e400",
        f"[reference]\nrh_percent = 1{'0' * 400}",
        'model = "m"\n[parts.""]\n[parts."".characteristics.""]\nkind = "thickness"',
        "[parts.a.characteristics.b]\nkind = []", "[parts]\na = 1", "model = true\nunit = []",
    ],
)  # fmt: skip
def test_odd_files_are_refused_as_plans(text):
    """Whatever the file holds, the answer is a list of problems."""
    assert problems(text)


@given(st.text(max_size=200))
def test_any_text_is_a_plan_or_a_list_of_problems(text):
    """Never another exception."""
    _plan_or_problems(text)


LEAF = (
    st.none().map(lambda _: "") | st.booleans() | st.integers() | st.floats() | st.text(max_size=12)
    | st.dates() | st.datetimes() | st.sampled_from(["1 1/4 in", "18 mm", "thickness", "-1", "0", "1/0"])
)  # fmt: skip
ANY = st.recursive(
    LEAF,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(string.ascii_lowercase, min_size=1, max_size=5), inner, max_size=3)
    ),
    max_leaves=6,
)


def _tables(table, path=()):
    for key, value in table.items():
        yield (*path, key)
        if isinstance(value, dict):
            yield from _tables(value, (*path, key))


@given(st.data())
def test_any_near_miss_of_a_plan_is_a_plan_or_a_list_of_problems(data):
    """One or two places of a good plan replaced, removed or misspelled, with any value TOML can hold."""
    table = tomlkit.parse(NEAR).unwrap()
    for _ in range(data.draw(st.integers(1, 2))):
        place = data.draw(st.sampled_from(sorted(_tables(table))))
        inner = table
        for key in place[:-1]:
            inner = inner[key]
        how = data.draw(st.sampled_from(["replace", "remove", "misspell"]))
        if how == "replace":
            inner[place[-1]] = data.draw(ANY)
        else:
            value = inner.pop(place[-1])
            if how == "misspell":
                inner[place[-1][:-1]] = value
    _plan_or_problems(tomlkit.dumps(table))


NEAR = """\
model = "m"
unit = "mm"
[reference]
rh_percent = 45
temp_c = 21
glue_rh_percent = [40, 50]
[parts.block]
title = "Block"
species = "spanish cedar"
grain = { thickness = "radial" }
[parts.block.characteristics.thickness]
kind = "thickness"
target = 18.0
tolerance = [-0.1, 0.2]
stations = { a = [0, 0], b = [60, 0], c = [0, 90], d = [60, 90] }
[parts.block.characteristics.taper]
kind = "taper"
of = "thickness"
limit = 0.1
[parts.block.characteristics.twist]
kind = "twist"
of = "thickness"
limit = 0.12
[parts.block.characteristics.flatness]
kind = "flatness"
method = "heights"
limit = 0.08
stations = { a = [0, 0], b = [30, 0], c = [60, 0], d = [0, 45], e = [30, 45], f = [60, 45] }
[parts.block.characteristics.squareness]
kind = "squareness"
blade_length = 75
over = 60
limit = "0.2 deg"
[parts.block.characteristics.radius]
kind = "radius"
chord = 50
target = 240
fit_width = 60
limit = 0.15
"""


def _plan_or_problems(text):
    try:
        found: Plan | tuple[PlanProblem, ...] = read_plan(text, "p.toml")
    except PlanError as error:
        found = error.problems
    if isinstance(found, Plan):
        return
    assert found
    for problem in found:
        assert problem.file == "p.toml"
        assert problem.why
        assert problem.line is None or 1 <= problem.line <= text.count("\n") + 1


def test_the_near_plan_is_a_good_one():
    """What the near misses start from is itself without fault."""
    assert len(read_plan(NEAR, "p.toml").part("block").characteristics) == 6


def test_since_is_a_date(plan_text):
    """The day from which a revision holds."""
    text = changed(plan_text, 'unit = "mm"', 'unit = "mm"\nsince = 2025-10-01')
    assert read_plan(text, "p.toml").since == date(2025, 10, 1)
