"""A plan that mixes an inch size with the whole millimetres it is loosely called is warned of."""

import pytest

from qa.plans.plan import read_plan
from qa.plans.rounding_traps import traps

PLAN = """\
model = "m"
[parts.block.characteristics.thickness]
kind = "thickness"
target = {first}
tolerance = {tolerance}
stations = {{ a = [0, 0], b = [0, 50] }}
[parts.rim.characteristics.width]
kind = "width"
target = {second}
tolerance = {tolerance}
stations = {{ a = [0, 0] }}
"""


def found(first, second, tolerance="0.5"):
    """The traps of a plan with these two targets."""
    return traps(read_plan(PLAN.format(first=first, second=second, tolerance=tolerance), "p.toml"))


@pytest.mark.parametrize(
    ("inch", "mm", "gap"),
    [
        ('"1 1/4 in"', "32.0", "0.25"),
        ('"1 1/4"', '"32 millimetres"', "0.25"),
        ('"2 3/4 in"', '"70 mm"', "0.15"),
        ('"3 in"', "76.0", "0.2"),
    ],
)
def test_an_inch_size_beside_what_it_is_called(inch, mm, gap):
    """Named with both keys, the difference, and what share of the tolerance it eats."""
    (trap,) = found(inch, mm)
    assert f"differ by {gap} mm" in trap
    assert "mm mm" not in trap
    assert "parts.block.characteristics.thickness.target" in trap
    assert "parts.rim.characteristics.width.target" in trap


def test_a_difference_the_tolerance_can_bear_is_no_trap():
    """Up to a quarter of it."""
    assert found('"3/4 in"', "19.0", "0.21") == []
    assert len(found('"3/4 in"', "19.0", "0.19")) == 1


def test_sizes_in_one_unit_are_no_trap():
    """Nor is an inch size beside another whole number."""
    assert found("31.75", "32.0") == []
    assert found('"1 1/4 in"', "33.0") == []
    assert found('"1 1/4 in"', '"1 1/4 in"') == []
