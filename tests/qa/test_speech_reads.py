"""What is to be read at a station, in words with its numbers."""

import re

import pytest

from qa.bench.capture import Place
from qa.bench.speech import say_place, say_reading
from qa.characteristics import kinds
from qa.geometry import radius_gap
from qa.plans.plan import read_plan

TABLES = {
    "area-thickness": "target = 2.5\ntolerance = 0.1\nstations = { a = [0, 0], b = [50, 0] }",
    "thickness": "target = 22.0\ntolerance = 0.25\nstations = { a = [0, 0] }",
    "moisture": "target = 8.0\ntolerance = 1.5",
    "radius": "chord = 74\ntarget = 190\nfit_width = 78\nlimit = 0.10",
    "squareness": "blade_length = 75\nover = 60\nlimit = 0.12",
    "flatness": 'method = "feeler"\nlimit = 0.08',
    "straightness": 'method = "feeler"\nlimit = 0.08',
    "gap": "limit = 0.1",
    "bevel": "limit = 4\nstations = { a = [0, 0] }",
    "offset": "limit = 0.3",
}
LEAF = "largest leaf that enters under the straightedge, minus where the face is crowned; at most 0.08 mm"
SAID = {
    "area-thickness": "",
    "thickness": "",
    "moisture": "",
    "radius": "sagitta over a 74.00 mm chord; 3.64 mm meets the mould, 3.55 mm to 3.73 mm is within limits",
    "squareness": (
        "feeler gap 75.00 mm from the corner, minus where the gap is at the corner; at most 0.15 mm"
    ),
    "flatness": LEAF,
    "straightness": LEAF,
    "gap": "largest leaf that enters the joint held dry, 0 for none; at most 0.10 mm",
    "bevel": "width of the bevel; at most 4.00 mm",
    "offset": "distance from this side to the centre line; left and right within 0.60 mm of each other",
}


def item_of(kind, lines):
    text = f'model = "m"\n[parts.block.characteristics.it]\nkind = "{kind}"\n{lines}\n'
    return read_plan(text, "m.toml").part("block").characteristics["it"]


@pytest.mark.parametrize("kind", TABLES)
def test_each_kind_says_what_is_read(kind):
    """Not the limits of the judged value where something else is read."""
    item = item_of(kind, TABLES[kind])
    assert say_reading(item, "mm") == SAID[kind]
    place = say_place(Place(item, item.stations[0], 0), "mm")
    assert SAID[kind] in place
    assert ("limits" in place) == (kind in ("area-thickness", "thickness", "moisture", "radius"))


def test_every_kind_that_is_read_is_tested_here():
    """A new kind says what is read, or that it is the value itself; sizes all read alike."""
    derived = {"taper", "twist"}
    assert set(kinds()) - derived - {"width", "length", "height"} == set(TABLES)


def test_the_other_methods():
    """Heights and diagonals."""
    heights = "stations = { a = [0, 0], b = [9, 0], c = [0, 9], d = [9, 9] }\nlimit = 0.08"
    assert "all within 0.08 mm of a plane" in say_reading(item_of("flatness", heights), "mm")
    line = "stations = { a = [0, 0], b = [9, 0], c = [20, 0] }\nlimit = 0.08"
    assert "all within 0.08 mm of straight" in say_reading(item_of("straightness", line), "mm")
    sides = 'method = "diagonals"\nwidth = 60\nlength = 80\nover = 60\nlimit = 0.1'
    said = say_reading(item_of("squareness", sides), "mm")
    assert said == "diagonal from corner to corner; 100.00 mm where it is square"


def test_the_sagittas_told_are_those_at_the_limits():
    """Read as told, the gap to the mould is the limit."""
    said = say_reading(item_of("radius", TABLES["radius"]), "mm")
    meets, least, most = (float(number) for number in re.findall(r"\b(\d\.\d\d) mm", said))
    gaps = [radius_gap(74, read, 190, 78) for read in (least, meets, most)]
    assert gaps == pytest.approx([-0.10, 0.0, 0.10], abs=0.006)  # told to a hundredth


def test_a_limit_past_flat_tells_a_hollow_sagitta():
    """Where the limit is wider than the mould is deep."""
    said = say_reading(item_of("radius", "chord = 50\ntarget = 5000\nfit_width = 60\nlimit = 0.15"), "mm")
    assert (
        said == "sagitta over a 50.00 mm chord; 0.06 mm meets the mould, -0.04 mm to 0.17 mm is within limits"
    )


def test_in_inches():
    """A shop in inches is told inches."""
    assert "2.9134 in chord" in say_reading(item_of("radius", TABLES["radius"]), "in")
