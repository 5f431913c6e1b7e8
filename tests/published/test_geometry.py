"""Shape against textbook geometry and worked arithmetic."""

import itertools
import math

import numpy as np
import pytest

from qa.geometry import (
    angle,
    flatness,
    least_squares_flatness,
    radius_from_sagitta,
    radius_gap_slope,
    sagitta,
    straightness,
)

TETRAHEDRON = np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]]) / math.sqrt(8)


@pytest.mark.parametrize("turn", range(6))
def test_regular_tetrahedron(turn):
    """The width of a regular tetrahedron of edge 1 is 1/sqrt 2, however it lies (textbooks; from memory)."""
    turned, _ = np.linalg.qr(np.random.default_rng(turn).normal(size=(3, 3)))
    assert flatness(TETRAHEDRON @ turned) == pytest.approx(1 / math.sqrt(2), abs=1e-12)


def test_cube():
    """The width of a cube is its edge (textbooks; from memory)."""
    assert flatness(list(itertools.product((0, 1), repeat=3))) == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("t", [0.2, 0.01, 1.0])
def test_pure_twist(t):
    """Opposite corners of a 100 mm square high by t: minimum zone t, least squares t (derived, exact)."""
    points = [[0, 0, t], [100, 0, 0], [0, 100, 0], [100, 100, t]]
    assert flatness(points) == pytest.approx(t, abs=1e-12)
    assert least_squares_flatness(points) == pytest.approx(t, abs=1e-9)


def test_straightness_of_three_points():
    """The deviation of the middle point from the chord of the ends (derived, exact)."""
    assert straightness([[0, 0], [50, 0.3], [100, 0]]) == pytest.approx(0.3, abs=1e-9)
    chord = abs(100 * 0.3 - 40 * 0.1) / math.hypot(100, 0.1)
    assert straightness([[0, 0], [40, 0.3], [100, 0.1]]) == pytest.approx(chord, abs=1e-9)


@pytest.mark.parametrize(
    ("chord", "radius", "height"),
    [
        (50.8, 304.8, 1.0602),
        (42, 254, 0.8696),
        (57, 406.4, 1.0006),
        (394, 7620, 2.5469),
        (394, 4572, 4.2462),
        (394, 8534.4, 2.2740),
        (200, 100, 100.0),
    ],
)
def test_sagitta(chord, radius, height):
    """s = R - sqrt(R^2 - c^2/4) (plane geometry; worked by hand), a half circle included."""
    assert round(sagitta(radius, chord), 4) == height
    assert radius_from_sagitta(chord, sagitta(radius, chord)) == pytest.approx(radius, abs=1e-6)


def test_radius_is_as_uncertain_as_its_sagitta():
    """dR/ds is about -R/s: 0.01 mm on 1.06 mm is 1 % of R (derived); the gap moves with it."""
    r, s = 304.8, sagitta(304.8, 50.8)
    per_mm = (radius_from_sagitta(50.8, s + 1e-6) - radius_from_sagitta(50.8, s - 1e-6)) / 2e-6
    assert per_mm == pytest.approx(-r / s, rel=0.01)
    assert radius_gap_slope(50.8, s, 50.8) == pytest.approx(1, rel=1e-9)


def test_angle():
    """0.1 mm in 100 mm is 0.0573 degrees (plane geometry; from memory)."""
    assert round(angle(0.1, 100), 4) == 0.0573
