"""Blank sizes: what each allowance adds, and every fault a plan's blank table can have."""

import math

import pytest

from qa.errors import CannotSay, PlanError
from qa.plans.blank import blanks
from qa.plans.plan import Reference, read_plan
from qa.wood import equilibrium_moisture, size_at

REFERENCE = Reference(rh_percent=45, temp_c=21)


def read(lines, part='species = "black cherry"\ngrain = { height = "tangential" }'):
    return read_plan(
        f"""
model = "m"
[parts.block]
{part}
[parts.block.characteristics.thickness]
kind = "thickness"
target = 46.0
tolerance = 0.3
stations = {{ a = [0, 0] }}
[parts.block.characteristics.taper]
kind = "flatness"
method = "feeler"
limit = 0.1
[parts.block.blank.height]
{lines}
""",
        "m.toml",
    ).part("block")


def blank(lines, **more):
    (found,) = blanks(read(lines, **more), REFERENCE)
    return found


def test_a_blank_is_the_finished_size_and_its_allowances():
    """All of them added; the kerf is the saw's, and counts for the stock alone."""
    found = blank('finished = 92\nwedge = 1.5\ntrimming = "2 mm"\nkerf = 1.2\ncuts = 2')
    assert [(item.name, item.amount) for item in found.allowances] == [("wedge", 1.5), ("trimming", 2.0)]
    assert (found.cut, found.stock) == (pytest.approx(95.5), pytest.approx(97.9))
    assert found.kerf.formula == "2 x 1.2 mm"


def test_nothing_asked_for_adds_nothing():
    """A blank of the finished size."""
    found = blank("finished = 92")
    assert (found.cut, found.stock, found.allowances) == (92.0, 92.0, ())


def test_the_finished_size_is_the_target_of_its_characteristic():
    """Written once."""
    part = read_plan(
        'model = "m"\n[parts.block.characteristics.thickness]\nkind = "thickness"\ntarget = "1 3/4 in"\n'
        "tolerance = 0.3\nstations = { a = [0, 0] }\n[parts.block.blank.thickness]\ntrimming = 1\n",
        "m.toml",
    ).part("block")
    assert blanks(part, REFERENCE)[0].cut == pytest.approx(45.45)


def test_a_brace_across_the_middle_of_a_dome_needs_its_sagitta():
    """25 ft over 394 mm: 2.547 mm, as plane geometry has it."""
    found = blank("finished = 14\ndome_radius = 7620\ndome_chord = 394")
    assert found.allowances[0].amount == pytest.approx(2.5469, abs=5e-5)


def test_a_block_off_the_middle_needs_the_drop_over_its_own_length():
    """Heights of the sphere at its nearest and farthest place."""
    found = blank("finished = 92\ndome_radius = 4572\ndome_from = [150, 216]")
    drop = math.sqrt(4572**2 - 150**2) - math.sqrt(4572**2 - 216**2)
    assert found.allowances[0].amount == pytest.approx(drop)
    assert found.allowances[0].formula == "sqrt(R² - a²) - sqrt(R² - b²), R 4572, a 150, b 216 mm"


def test_wet_wood_is_cut_larger_by_what_drying_takes():
    """Dried to the reference, the blank is the size that was wanted."""
    found = blank("finished = 92\ntrimming = 2\nmoves_from_rh = 65")
    moved = found.allowances[-1]
    assert size_at(94 + moved.amount, 0.00248, 65, 45, 21) == pytest.approx(94)
    before, after = equilibrium_moisture(65, 21), equilibrium_moisture(45, 21)
    assert moved.amount == pytest.approx(94 / (1 + 0.00248 * (after - before)) - 94)
    assert "C 0.00248" in moved.formula


def test_wood_that_will_swell_is_not_cut_smaller():
    """Oversize is the safe side."""
    assert blank("finished = 92\nmoves_from_rh = 35").allowances[-1].amount == 0.0
    assert blank("finished = 92\nmoves_from_rh = 35\nmoves_to_rh = 30").allowances[-1].amount > 0


def test_wood_without_figures_cannot_say():
    """Only where movement is asked for."""
    part = 'species = "unheard-of wood"\ngrain = { height = "radial" }'
    assert blank("finished = 92", part=part).cut == 92
    with pytest.raises(CannotSay, match="no movement figures"):
        blank("finished = 92\nmoves_from_rh = 65", part=part)


FAULTS = [
    ("trimming = 2", "finished", "is missing, and 'height' is no size"),
    ('finished = "tall"', "finished", "tall"),
    ("finished = 0", "finished", "above zero"),
    ("finished = 92\ntriming = 2", "triming", "did you mean 'trimming'?"),
    ("finished = 92\ntrimming = -2", "trimming", "below zero"),
    ("finished = 92\ndome_radius = 4572", "dome_radius", "needs dome_from"),
    ("finished = 92\ndome_from = [1, 2]", "dome_from", "needs dome_radius"),
    ("finished = 92\ndome_radius = 4572\ndome_from = [20, 10]", "dome_from", "nearest"),
    ("finished = 92\ndome_radius = 4572\ndome_from = 20", "dome_from", "[nearest, farthest]"),
    ("finished = 92\ndome_radius = 100\ndome_chord = 201", "dome_chord", "reaches beyond"),
    (
        "finished = 92\ndome_radius = 4572\ndome_chord = 9\ndome_from = [1, 2]",
        "dome_radius",
        "one of the two",
    ),
    ("finished = 92\ncuts = 1.5", "cuts", "whole number"),
    ("finished = 92\ncuts = 0", "cuts", "whole number"),
    ("finished = 92\nmoves_from_rh = 120", "moves_from_rh", "between 0 and 100"),
    ("finished = 92\nmoves_to_rh = 40", "moves_from_rh", "missing beside moves_to_rh"),
]


@pytest.mark.parametrize(("lines", "key", "why"), FAULTS)
def test_every_fault_is_named_with_its_place(lines, key, why):
    """The key, its line, and what to do."""
    with pytest.raises(PlanError) as caught:
        read(lines)
    problems = {item.key: item for item in caught.value.problems}
    found = problems[f"parts.block.blank.height.{key}"]
    assert why in found.why
    assert found.line is not None


@pytest.mark.parametrize(
    ("part", "why"),
    [('species = "black cherry"', "grain = { height"), ('grain = { height = "radial" }', "species")],
)
def test_movement_needs_species_and_grain(part, why):
    """Without them the plan is refused, not the movement left out."""
    with pytest.raises(PlanError, match=why):
        read("finished = 92\nmoves_from_rh = 65", part)


@pytest.mark.parametrize("value", ["blank = 3", "blank = {}", "blank = { height = 3 }"])
def test_a_blank_must_be_tables(value):
    """One per size."""
    with pytest.raises(PlanError, match="table"):
        read_plan(
            f'model = "m"\n[parts.block]\n{value}\n[parts.block.characteristics.t]\nkind = "thickness"\n'
            "target = 4\ntolerance = 0.3\nstations = { a = [0, 0] }\n",
            "m.toml",
        )
