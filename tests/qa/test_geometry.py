"""Shape from readings: minimum zones, taper, twist, radius."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from qa.errors import CannotSay
from qa.geometry import (
    angle,
    flatness,
    flatness_zone,
    gap_over,
    least_squares_flatness,
    radius_from_sagitta,
    radius_gap,
    radius_gap_slope,
    sagitta,
    straightness,
    taper,
    taper_weights,
    twist,
    twist_weights,
)

CORNERS = np.array([[0.0, 0.0], [60.0, 0.0], [0.0, 90.0], [60.0, 90.0]])
GRID = np.array([[x, y] for x in (0.0, 30.0, 60.0) for y in (0.0, 45.0, 90.0)])

# Heights as read (hundredths), on a shop's grid of stations or anywhere on a face
read_heights = st.lists(st.integers(-30, 30).map(lambda n: n / 100), min_size=9, max_size=9)
seeds = st.integers(0, 2**32 - 1)


def with_heights(stations, heights):
    """Points of a face."""
    return np.column_stack([stations, heights])


def by_linear_programme(points):
    """The width of the points along the plane z = a x + b y + c that has all of them within the least h.

    The programme's own h may be a little less: its solver lets a point lie outside by its tolerance.
    """
    x, y, z = np.asarray(points).T
    ones = np.ones(len(x))
    rows = np.vstack([np.column_stack([-x, -y, -ones, -ones]), np.column_stack([x, y, ones, -ones])])
    found = linprog([0, 0, 0, 1], A_ub=rows, b_ub=np.concatenate([-z, z]), bounds=[(None, None)] * 4)
    a, b, _, _ = found.x
    return np.ptp(z - a * x - b * y) / math.sqrt(1 + a * a + b * b)


def by_every_facet_and_edge_pair(points):
    """Least width over every direction a hull offers, without shortcuts."""
    hull = ConvexHull(points)
    corners = points[hull.vertices]
    ends = {
        tuple(sorted(pair)) for f in hull.simplices for pair in ((f[0], f[1]), (f[1], f[2]), (f[0], f[2]))
    }
    edges = np.array([points[b] - points[a] for a, b in ends])
    crossed = np.vstack([np.cross(edge, edges) for edge in edges] + [hull.equations[:, :3]])
    lengths = np.linalg.norm(crossed, axis=1)
    normals = crossed[lengths > 1e-9] / lengths[lengths > 1e-9, None]
    return min(np.ptp(corners @ normal) for normal in normals)


@given(read_heights)
def test_flatness_is_never_worse_than_a_linear_programme_on_a_grid(heights):
    """Heights in hundredths over nine stations, ties and all."""
    points = with_heights(GRID, heights)
    assert flatness(points) <= by_linear_programme(points) + 1e-9
    assert flatness(points) == pytest.approx(by_linear_programme(points), abs=1e-4)


@given(seeds, st.integers(4, 40), st.sampled_from([0.001, 0.1, 5.0]))
def test_flatness_is_never_worse_than_a_linear_programme_anywhere(seed, count, roughness):
    """Stations anywhere on a face of 300 by 500 mm, thin and thick deviations."""
    random = np.random.default_rng(seed)
    points = with_heights(random.uniform(0, [300, 500], (count, 2)), random.normal(0, roughness, count))
    assert flatness(points) <= by_linear_programme(points) + 1e-9


@given(seeds, st.integers(4, 60), st.sampled_from([1e-3, 0.1, 1.0]))
def test_flatness_is_the_least_width_of_the_hull(seed, count, thickness):
    """The same as trying every facet and every pair of edges, for faces and for lumps."""
    points = np.random.default_rng(seed).normal(0, [1, 1, thickness], (count, 3))
    assert flatness(points) == pytest.approx(by_every_facet_and_edge_pair(points), abs=1e-12)


@given(read_heights, st.floats(-1e3, 1e3), st.floats(-1e-4, 1e-4), st.floats(-1e-4, 1e-4))
def test_flatness_ignores_where_the_face_lies(heights, shift, a, b):
    """Moving the part changes nothing, and tilting it nothing to first order."""
    points = with_heights(GRID, heights)
    moved = points + np.array([shift, -shift, shift])
    tilted = points + np.outer(GRID @ [a, b], [0, 0, 1])
    assert flatness(moved) == pytest.approx(flatness(points), abs=1e-9)
    assert flatness(tilted) == pytest.approx(flatness(points), abs=1e-6)


@given(read_heights)
def test_least_squares_is_never_smaller(heights):
    """Peak to valley about the least-squares plane bounds the minimum zone from above."""
    points = with_heights(GRID, heights)
    assert flatness(points) <= least_squares_flatness(points) + 1e-12


@given(read_heights, st.integers(0, 8), st.integers(-20, 20))
def test_another_reading_never_makes_a_face_flatter(heights, station, height):
    """Adding a point can only widen the zone."""
    points = with_heights(GRID, heights)
    more = np.vstack([points, [*(GRID[station] + 5), height / 100]])
    assert flatness(more) >= flatness(points) - 1e-12


@given(seeds)
def test_three_points_are_flat(seed):
    """Any three points lie in a plane."""
    assert flatness(np.random.default_rng(seed).uniform(0, 100, (3, 3))) == 0.0


@pytest.mark.parametrize("heights", [np.zeros(9), GRID @ [0.01, -0.02] + 3])
def test_a_plane_is_flat(heights):
    """Points in one plane, level or tilted, have no width but still a sensitivity to each height."""
    zone = flatness_zone(with_heights(GRID, heights))
    assert zone.width == 0.0
    assert np.abs(zone.weights).sum() == pytest.approx(2)
    assert zone.weights @ GRID == pytest.approx([0, 0], abs=1e-6)


def test_repeated_readings_of_a_station_are_allowed():
    """The same station twice, with two heights, is a face with a step at it."""
    points = np.vstack([with_heights(CORNERS, np.zeros(4)), [0, 0, 0.1], [30, 45, 0.0]])
    assert flatness(points) == pytest.approx(by_linear_programme(points), abs=1e-6)


@given(seeds)
def test_the_zone_holds_every_point_and_says_which_hold_it(seed):
    """Planes touch the active points, and the rest lie between them."""
    random = np.random.default_rng(seed)
    points = with_heights(random.uniform(0, 100, (12, 2)), random.normal(0, 0.1, 12))
    zone = flatness_zone(points)
    depth = points @ zone.normal - zone.offset
    assert depth.min() == pytest.approx(0, abs=1e-9)
    assert depth.max() == pytest.approx(zone.width, abs=1e-9)
    held = depth[list(zone.active)]
    assert np.minimum(np.abs(held), np.abs(held - zone.width)) == pytest.approx(0, abs=1e-9)
    assert zone.normal[2] > 0
    assert np.linalg.norm(zone.normal) == pytest.approx(1)


@given(seeds, st.integers(0, 11))
def test_weights_are_the_sensitivities_of_the_width(seed, station):
    """A small change of one height changes the width by its weight; a shift of all, by nothing."""
    random = np.random.default_rng(seed)
    points = with_heights(random.uniform(0, 100, (12, 2)), random.normal(0, 0.1, 12))
    zone = flatness_zone(points)
    up, down = points.copy(), points.copy()
    up[station, 2] += 1e-7
    down[station, 2] -= 1e-7
    above, below = (flatness(up) - zone.width) / 1e-7, (zone.width - flatness(down)) / 1e-7
    assume(abs(above - below) < 1e-4)  # else two zones are tied, and the width has a corner here
    assert zone.weights[station] == pytest.approx((above + below) / 2, abs=1e-4)
    assert zone.weights.sum() == pytest.approx(0, abs=1e-9)


def test_a_lump_is_no_face():
    """Thousands of points on a ball are refused, not searched for minutes."""
    ball = np.random.default_rng(3).normal(0, 1, (3000, 3))
    with pytest.raises(CannotSay, match="not those of a face"):
        flatness(ball / np.linalg.norm(ball, axis=1)[:, None])


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(-20, 20)), min_size=2, max_size=30))
def test_straightness_is_the_least_width_of_the_plane_figure(raw):
    """The same as trying the line through every pair of points."""
    points = np.array(raw) * [10.0, 0.01]
    assume(np.ptp(points[:, 0]) > 0)
    widths = []
    for a in points:
        for b in points:
            along = b - a
            if along.any():
                widths.append(np.ptp(points @ [-along[1], along[0]]) / np.hypot(*along))
    assert straightness(points) == pytest.approx(min(widths), abs=1e-9)


@given(st.lists(st.integers(0, 50), min_size=2, max_size=12, unique=True), st.floats(-1, 1))
def test_a_line_is_straight(positions, slope):
    """Points on one line have no width."""
    assert straightness([[p, slope * p + 2] for p in positions]) == pytest.approx(0, abs=1e-9)


SIZES = st.lists(st.floats(10, 30), min_size=4, max_size=4)


def test_taper_is_top_mean_minus_bottom_mean():
    """Signed: thick at the top end is positive; stations in between do not count."""
    points = [[0, 0, 22.03], [60, 0, 22.05], [0, 90, 22.20], [60, 90, 22.22], [30, 45, 30.0]]
    assert taper(points) == pytest.approx(0.17)
    assert taper([[x, 90 - y, t] for x, y, t in points]) == pytest.approx(-0.17)


@given(SIZES, st.floats(-1, 1), st.floats(-0.01, 0.01), st.floats(-0.01, 0.01))
def test_twist_sees_no_taper(sizes, shift, a, b):
    """Adding any plane to the sizes leaves the twist, and adds its rise along y to the taper."""
    plain = with_heights(CORNERS, sizes)
    planed = with_heights(CORNERS, np.array(sizes) + shift + CORNERS @ [a, b])
    assert twist(planed) == pytest.approx(twist(plain), abs=1e-9)
    assert taper(planed) == pytest.approx(taper(plain) + 90 * b, abs=1e-9)


def test_twist_is_signed_by_its_corners():
    """t(0,0) - t(X,0) - t(0,Y) + t(X,Y), whatever the order and whatever lies between."""
    points = [[30, 45, 99.0], [60, 90, 18.1], [0, 0, 18.1], [60, 0, 18.0], [0, 90, 18.0]]
    assert twist(points) == pytest.approx(0.2)


@given(SIZES)
def test_taper_and_twist_are_their_weights(sizes):
    """The weights others use for uncertainty and planing are those of the value itself."""
    points = with_heights(CORNERS, sizes)
    assert taper(points) == pytest.approx(taper_weights(CORNERS) @ sizes)
    assert twist(points) == pytest.approx(twist_weights(CORNERS) @ sizes)
    assert twist_weights(CORNERS).tolist() == [1, -1, -1, 1]


@given(st.floats(5, 5000), st.floats(0.001, 1))
def test_radius_and_sagitta_are_inverse(radius, share):
    """Round trip, from a shallow arc to a half circle."""
    chord = 2 * radius * share
    assert radius_from_sagitta(chord, sagitta(radius, chord)) == pytest.approx(radius, rel=1e-6)


def test_radius_gap_is_positive_at_the_edges():
    """On a 76 mm face against R 200: R 190 gaps 0.20 at the edges, R 220 gaps 0.34 in the middle."""
    assert radius_gap(50, sagitta(190, 50), 200, 76) == pytest.approx(0.1956, abs=1e-4)
    assert radius_gap(50, sagitta(220, 50), 200, 76) == pytest.approx(-0.3365, abs=1e-4)
    assert radius_gap(50, sagitta(200, 50), 200, 76) == pytest.approx(0, abs=1e-12)


def test_a_flat_or_hollow_part_gaps_in_the_middle():
    """A reading of nothing is a flat part; a hollow one is worse still."""
    assert radius_gap(50, 0, 200, 76) == pytest.approx(-sagitta(200, 76))
    assert radius_gap(50, -0.5, 200, 76) < radius_gap(50, 0, 200, 76)


@given(st.floats(-10, 10), st.floats(10, 60))
def test_radius_gap_slope_is_its_derivative(rise, width):
    """Against a central difference."""
    near = [radius_gap(60, rise + step, 240, width) for step in (-1e-5, 1e-5)]
    assert radius_gap_slope(60, rise, width) == pytest.approx((near[1] - near[0]) / 2e-5, rel=1e-5)


def test_a_gap_is_an_angle_and_scales_with_length():
    """0.10 over 74 mm is 0.077 degrees, and 0.081 over 60 mm."""
    assert angle(0.10, 74) == pytest.approx(0.0774, abs=1e-4)
    assert angle(-0.10, 74) == -angle(0.10, 74)
    assert gap_over(0.10, 74, 60) == pytest.approx(0.0811, abs=1e-4)


LINE = [[0, 0, 1.0], [0, 45, 1.1], [0, 90, 1.0]]


@pytest.mark.parametrize("shape", [flatness, flatness_zone, least_squares_flatness])
@pytest.mark.parametrize(
    "points",
    [
        LINE,
        [[0, 0, 1.0], [30, 45, 1.1], [60, 90, 1.0], [20, 30, 1.0]],
        [[5, 5, 1.0]] * 4,
        [[0, 0, 1.0]],
        [[0, 0, 1.0], [60, 0, 1.0]],
        [[0, 0, 1.0], [60, 0, math.nan], [0, 90, 1.0]],
        [[0, 0, 1.0], [60, 0, math.inf], [0, 90, 1.0]],
        [],
        [[0, 0], [1, 0], [0, 1]],
        [[0, 0, 1], [1, 0]],
        [0, 0, 1],
    ],
)
def test_points_that_are_no_face_are_refused(shape, points):
    """On one line, coincident, too few, not finite, or no table at all."""
    with pytest.raises(CannotSay):
        shape(points)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: straightness([[0, 0.1]]),
        lambda: straightness([[5, 0.1], [5, 0.2]]),
        lambda: straightness([[0, math.nan], [5, 0.2]]),
        lambda: straightness([]),
        lambda: taper([[0, 0, 1.0], [60, 0, 1.0]]),
        lambda: taper([]),
        lambda: taper([[0, 0, math.nan], [0, 90, 1.0]]),
        lambda: twist([[0, 0, 1.0], [60, 0, 1.0], [0, 90, 1.0]]),
        lambda: twist(LINE),
        lambda: twist([[30, 0, 1.0], [0, 45, 1.0], [60, 45, 1.0], [30, 90, 1.0]]),
        lambda: radius_from_sagitta(50, 0),
        lambda: radius_from_sagitta(50, -1),
        lambda: radius_from_sagitta(50, 25.1),
        lambda: radius_from_sagitta(math.nan, 1),
        lambda: sagitta(24.9, 50),
        lambda: sagitta(0, 50),
        lambda: sagitta(math.inf, 50),
        lambda: radius_gap(50, 26, 200, 40),
        lambda: radius_gap(50, 20, 200, 60),
        lambda: radius_gap(50, 1, 20, 60),
        lambda: radius_gap_slope(50, 25, 50),
        lambda: angle(0.1, 0),
        lambda: gap_over(0.1, 75, math.nan),
    ],
)
def test_shapes_that_cannot_be_told_are_refused(ask):
    """Missing corners, one end only, more than a half circle, not finite."""
    with pytest.raises(CannotSay):
        ask()


def test_a_missing_corner_is_named():
    """The message says where to read."""
    with pytest.raises(CannotSay, match="largest x, largest y"):
        twist([[0, 0, 1.0], [60, 0, 1.0], [0, 90, 1.0]])
