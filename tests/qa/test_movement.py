"""How humidity moves measured sizes and rounded faces, and where no theory says."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa.characteristics import kinds
from qa.gate.movement import SHAPES, direction_of, movements, swollen_sagitta, unpredicted
from qa.plans.plan import Reference, read_plan
from qa.record import BenchReading
from qa.wood import Species, coefficient, equilibrium_moisture, load_species

REFERENCE = Reference(rh_percent=45, temp_c=21)
PLAN = """
model = "m"
[parts.block]
species = "black cherry"
grain = { thickness = "radial", width = "tangential" }
[parts.block.characteristics.thickness]
kind = "thickness"
target = 22.0
tolerance = 0.2
stations = { a = [0, 0], b = [0, 90] }
[parts.block.characteristics.width]
kind = "width"
target = 78.0
tolerance = 0.5
stations = { top = [0, 0] }
[parts.block.characteristics.height]
kind = "height"
target = 90.0
tolerance = 0.5
stations = { mid = [0, 0] }
[parts.block.characteristics.radius]
kind = "radius"
chord = 74
target = 190
fit_width = 78
limit = 0.10
[parts.block.characteristics.flatness]
kind = "flatness"
method = "feeler"
limit = 0.08
[parts.block.characteristics.squareness]
kind = "squareness"
blade_length = 75
over = 75
limit = 0.15
"""


def part_of(plan=PLAN):
    return read_plan(plan, "m.toml").part("block")


def latest(values, rh=60.0):
    rows = (
        BenchReading(
            "2026-01-05T10:00:00.000000Z", "B", "block", name, station, round(value * 1e6), rh_percent=rh
        )
        for (name, station), value in values.items()
    )
    return {(row.characteristic, row.station): row for row in rows}


def test_a_size_moves_by_its_coefficient_and_the_change_of_moisture():
    """Equation 13-2 with the moistures of equation 4-5; USDA Wood Handbook."""
    (moved,) = movements(part_of(), latest({("width", "top"): 78.2}), REFERENCE)
    change = equilibrium_moisture(45, 21) - equilibrium_moisture(60, 21)
    assert moved.moved == pytest.approx(78.2 * 0.00248 * change)
    assert (moved.size, moved.rh, moved.to_rh, moved.taken_at[:10]) == (78.2, 60.0, 45.0, "2026-01-05")
    assert moved.within
    low, high = moved.window
    assert low < 45 < high


def test_each_size_moves_along_its_own_grain():
    """Radially less than tangentially; a size whose grain the plan does not name is left out."""
    read = {("width", "top"): 50.0, ("thickness", "a"): 50.0, ("height", "mid"): 50.0}
    found = {item.characteristic: item.moved for item in movements(part_of(), latest(read), REFERENCE)}
    assert found["thickness"] / found["width"] == pytest.approx(0.00126 / 0.00248)
    assert "height" not in found


def test_readings_at_no_known_humidity_are_left_out():
    """Nothing is assumed of the air."""
    assert movements(part_of(), latest({("width", "top"): 78.0}, rh=None), REFERENCE) == []


@pytest.mark.parametrize(("shown", "near"), [(100.0, 99.0), (0.0, 1.0)])
def test_a_hygrometer_at_the_end_of_its_scale_hides_no_movement(shown, near):
    """No wood is in balance with such air; it is taken as this near it, for that reading alone."""
    found = latest({("width", "top"): 78.0}, rh=shown) | latest({("thickness", "a"): 22.0}, rh=60.0)
    width = next(item for item in movements(part_of(), found, REFERENCE) if item.characteristic == "width")
    (as_near,) = movements(part_of(), latest({("width", "top"): 78.0}, rh=near), REFERENCE)
    assert (width.rh, width.moved, width.within) == (shown, as_near.moved, as_near.within)
    assert len(movements(part_of(), found, REFERENCE)) == 2


def test_the_shops_own_species(tmp_path):
    """A species.toml beside shop.toml adds woods and overrides those shipped."""
    own = tmp_path / "species.toml"
    own.write_text('[mywood]\nname = "my wood"\nradial = 0.001\ntangential = 0.003\nsource = "own tests"\n')
    known = load_species(own)
    part = part_of(PLAN.replace("black cherry", "my wood"))
    (moved,) = movements(part, latest({("width", "top"): 78.0}), REFERENCE, known=known)
    change = equilibrium_moisture(45, 21) - equilibrium_moisture(60, 21)
    assert moved.moved == pytest.approx(78 * 0.003 * change)


def test_an_even_swelling_only_scales_an_arc():
    """Both ways alike: a circle stays a circle, its radius grown by the same share."""
    swollen = swollen_sagitta(74, 3.64, 78, 1.02, 1.02)
    radius = 1.02 * (74**2 / (8 * 3.64) + 3.64 / 2)
    assert swollen == pytest.approx(radius - math.sqrt(radius**2 - 39**2), rel=1e-12)


@settings(deadline=None)
@given(st.floats(100, 400), st.floats(0.98, 1.02), st.floats(0.98, 1.02), st.floats(60, 90))
def test_a_swollen_arc_by_its_points(radius, wider, thicker, width):
    """The same from the points of the arc, each moved across and through, read off over the width."""
    x = np.linspace(-50, 50, 20_001)
    depth = radius - np.sqrt(radius**2 - x**2)
    expected = np.interp(width / 2, x * wider, depth * thicker)
    read = radius - math.sqrt(radius**2 - 37**2)
    assert swollen_sagitta(74, read, width, wider, thicker) == pytest.approx(expected, abs=1e-6)


def test_a_rounded_face_grows_rounder_as_it_dries():
    """Drying narrows the face more than it lowers it, so the arc grows rounder: a gap at the edges."""
    (moved,) = movements(part_of(), latest({("radius", ""): 3.64}), REFERENCE)
    wood = Species("black cherry", 0.00126, 0.00248)
    change = equilibrium_moisture(45, 21) - equilibrium_moisture(60, 21)
    across, through = (coefficient(wood, way) * change for way in ("tangential", "radial"))
    first_order = 78**2 / 8 / 190 * (through - 2 * across)
    assert moved.moved == pytest.approx(first_order, rel=0.05)
    assert moved.moved > 0.02
    low, high = moved.window
    assert low < 60 < high


def test_the_window_of_a_radius_ends_where_its_gap_meets_a_limit():
    """Read again at either end, the gap is at a limit."""
    (moved,) = movements(part_of(), latest({("radius", ""): 3.70}), REFERENCE)
    for edge, limit in ((moved.window[0], 0.10),):
        (there,) = movements(part_of(), latest({("radius", ""): 3.70}), REFERENCE, to_rh=edge)
        assert there.size + there.moved == pytest.approx(limit, abs=1e-6)


def test_a_radius_without_the_grain_of_both_is_said_to_be_unknown():
    """Width and thickness move by different coefficients; both are needed."""
    part = part_of(PLAN.replace('thickness = "radial", ', ""))
    assert movements(part, latest({("radius", ""): 3.64}), REFERENCE) == []
    assert unpredicted(part)["radius"] == "needs the grain of width and thickness in the plan"
    assert "radius" not in unpredicted(part_of())


def test_shapes_no_theory_tells_say_so():
    """Cup, bow and twist come of uneven moisture; a square part stays square."""
    told = unpredicted(part_of())
    assert set(told) == {"flatness", "squareness"}
    assert "uneven moisture" in told["flatness"]
    assert "stays as it is" in told["squareness"]


def test_every_kind_is_a_size_a_shape_or_moisture():
    """A new kind must say how it moves, or why that cannot be told."""
    sized = {name for name, kind in kinds().items() if kind.sized}
    assert set(kinds()) - sized - set(SHAPES) == {"moisture"}


def test_the_grain_of_a_size_goes_by_its_name_or_its_kind():
    """A second width of another grain can be named."""
    plan = PLAN.replace('width = "tangential"', 'width = "tangential", height = "longitudinal"')
    part = part_of(plan)
    ways = [direction_of(part, part.characteristics[name]) for name in ("thickness", "width", "height")]
    assert ways == ["radial", "tangential", "longitudinal"]
    assert direction_of(part, part.characteristics["flatness"]) is None
