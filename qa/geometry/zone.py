"""Minimum zones: the least distance between two parallel planes, or lines, that contain every point.

Definitions: ISO 1101:2017 and ISO 12781-1:2011 (flatness), ISO 12780-1:2011 (straightness); from memory.
The distance is measured square to the planes. Method: the least width of a few points is found exactly, from
the facets and the pairs of edges of their hull; the points that stick out of it are added until none does.
So the width is exact for any number of points, and only a few dozen are ever searched.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from qa.arithmetic import finite
from qa.errors import CannotSay

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

FLAT = 1e-12  # of the points' extent: nearer than this to one plane counts as in it
MOST_SEARCHED = 100  # a face needs a few dozen points; a ball would need them all


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """A minimum zone.

    width: mm. normal: unit vector across the zone, last component not negative. offset: normal . p of the
    lower plane, so that offset <= normal . p <= offset + width. active: indices of the points that hold the
    zone. weights[n]: d width / d height of each point; they sum to zero.
    """

    width: float
    normal: Floats
    offset: float
    active: tuple[int, ...]
    weights: Floats


def flatness(points: ArrayLike) -> float:
    """Flatness: the minimum-zone width of points[n >= 3, (x, y, height)], in mm, measured square to the zone.

    CannotSay for numbers that are not finite, fewer than three points, or stations all on one line (that is
    straightness). Source: ISO 1101:2017, ISO 12781-1:2011 (minimum zone).
    """
    return flatness_zone(points).width


def flatness_zone(points: ArrayLike) -> Zone:
    """The zone flatness() measures, with the sensitivity of its width to each height.

    Where all points lie in one plane the width has a corner, and the weights are those of a first bow or
    twist. CannotSay as for flatness().
    """
    given = _face(points)
    zone = _zone(given, _narrowest_of_hull)
    if zone.width > 0 or len(given) == 3:
        return zone
    # In one plane: any small bow opens the zone, so take the weights a bow would give.
    x, y = ((given - given.mean(axis=0)) / np.ptp(given[:, :2], axis=0).max())[:, :2].T
    bowed = _zone(np.column_stack([x, y, 1e-4 * (x * x + y * y + 1.7 * x * y)]), _narrowest_of_hull)
    return Zone(0.0, zone.normal, zone.offset, bowed.active, bowed.weights)


def straightness(points: ArrayLike) -> float:
    """Straightness: the minimum-zone width of points[n >= 2, (position, height)], in mm, square to the zone.

    CannotSay for numbers that are not finite, fewer than two points, or all at one position.
    Source: ISO 12780-1:2011 (minimum zone).
    """
    return straightness_zone(points).width


def straightness_zone(points: ArrayLike) -> Zone:
    """The zone straightness() measures, with the sensitivity of its width to each height.

    Where all points lie on one line the width has a corner, and the weights are those of a first bow.
    CannotSay as for straightness().
    """
    given = finite.table(points, "points of a line", 2, at_least=2)
    if np.ptp(given[:, 0]) == 0:
        raise CannotSay("straightness needs points at two positions or more along the line")
    zone = _zone(given, _narrowest_of_pairs)
    if zone.width > 0 or len(given) == 2:
        return zone
    along = (given[:, 0] - given[:, 0].mean()) / np.ptp(given[:, 0])
    bowed = _zone(np.column_stack([along, 1e-4 * along * along]), _narrowest_of_pairs)
    return Zone(0.0, zone.normal, zone.offset, bowed.active, bowed.weights)


def least_squares_flatness(points: ArrayLike) -> float:
    """Peak to valley about the (orthogonal) least-squares plane of points[n >= 3, (x, y, height)], in mm.

    Never less than flatness(). CannotSay as for flatness(). Source: ISO 12781-1:2011 (least squares).
    """
    given = _face(points)
    centred = given - given.mean(axis=0)
    _, _, axes = np.linalg.svd(centred, full_matrices=False)
    return 0.0 if len(given) == 3 else float(np.ptp(centred @ axes[-1]))


def _face(points: ArrayLike) -> Floats:
    given = finite.table(points, "points of a face", 3, at_least=3)
    stations = given[:, :2] - given[:, :2].mean(axis=0)
    spread = np.linalg.svd(stations, compute_uv=False)
    if spread[1] <= 1e-9 * spread[0]:
        raise CannotSay("flatness needs stations off one line; on one line, ask for straightness")
    return given


def _zone(points: Floats, narrowest: Callable[[Floats, Floats], Floats]) -> Zone:
    centre = points.mean(axis=0)
    centred = points - centre
    _, spread, axes = np.linalg.svd(centred, full_matrices=False)
    scale = float(np.ptp(centred, axis=0).max())
    across = centred @ axes[-1]
    if len(points) <= points.shape[1] or np.ptp(across) <= FLAT * scale:
        normal = _upwards(axes[-1])
        return Zone(0.0, normal, float(normal @ centre), (), np.zeros(len(points)))
    normal, held = _search(centred, (centred @ axes.T) / spread, narrowest, 0.1 * FLAT * scale)
    heights = centred @ normal
    top, bottom = float(heights.max()), float(heights.min())
    shares = _shares(centred[held], heights[held], normal, 10 * FLAT * scale)
    weights = np.zeros(len(points))
    weights[held] = shares * normal[-1]
    active = tuple(np.asarray(held)[shares != 0].tolist())
    return Zone(top - bottom, normal, bottom + float(normal @ centre), active, weights)


def _search(
    points: Floats, even: Floats, narrowest: Callable[[Floats, Floats], Floats], tolerance: float
) -> tuple[Floats, list[int]]:
    """The direction of least width, and the points that hold the zone, among a few others.

    even: the points stretched to be as wide in every direction.
    """
    chosen = _outermost(even)
    best, least = np.zeros(points.shape[1]), np.inf
    while len(chosen) <= MOST_SEARCHED:
        few = points[chosen]
        normal = narrowest(few, even[chosen])
        heights = points @ normal
        ends = [int(heights.argmin()), int(heights.argmax())]
        width = heights[ends[1]] - heights[ends[0]]
        if width < least:
            best, least = normal, width
        if least - np.ptp(few @ normal) <= tolerance or set(ends) <= set(chosen):
            return _upwards(best), chosen
        chosen = sorted({*chosen, *ends})
    raise CannotSay("these points are not those of a face: they are about as thick as they are wide")


def _outermost(even: Floats) -> list[int]:
    directions = np.array([d for d in product((-1, 0, 1), repeat=even.shape[1]) if any(d)], dtype=np.float64)
    return sorted({int((even @ direction).argmax()) for direction in directions})


def _narrowest_of_hull(points: Floats, even: Floats) -> Floats:
    from scipy.spatial import ConvexHull, QhullError

    try:
        facets = ConvexHull(even).simplices
    except QhullError:  # these few lie in one plane
        return np.asarray(np.linalg.svd(points - points.mean(axis=0))[2][-1])
    pairs = np.sort(np.vstack([facets[:, [0, 1]], facets[:, [1, 2]], facets[:, [0, 2]]]), axis=1)
    ends = np.unique(pairs, axis=0)
    edges = points[ends[:, 1]] - points[ends[:, 0]]
    i, j = np.triu_indices(len(edges), 1)
    corners = points[facets]
    on_facets = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return _least_wide(points, np.vstack([on_facets, np.cross(edges[i], edges[j])]))


def _narrowest_of_pairs(points: Floats, even: Floats) -> Floats:
    i, j = np.triu_indices(len(points), 1)
    along = points[j] - points[i]
    return _least_wide(points, np.column_stack([-along[:, 1], along[:, 0]]))


def _least_wide(points: Floats, directions: Floats) -> Floats:
    lengths = np.linalg.norm(directions, axis=1)
    normals = directions[lengths > 1e-14 * lengths.max()]
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    widths = np.ptp(normals @ points.T, axis=1)
    normal: Floats = normals[widths.argmin()]
    return normal


def _upwards(normal: Floats) -> Floats:
    return (-normal if normal[-1] < 0 else normal) + 0.0


def _shares(points: Floats, heights: Floats, normal: Floats, margin: float) -> Floats:
    """How the top points (shares sum to 1) and the bottom points (to -1) hold the zone between them.

    A weighted mean of the top points sits square above one of the bottom points.
    """
    from scipy.optimize import nnls

    top = np.flatnonzero(heights >= heights.max() - margin)
    bottom = np.flatnonzero(heights <= heights.min() + margin)
    flat = (points - np.outer(heights, normal)) / np.ptp(points, axis=0).max()
    balance = np.hstack([flat[top].T, -flat[bottom].T])
    ones = np.repeat([[1.0, 0.0], [0.0, 1.0]], [len(top), len(bottom)], axis=0).T
    found, _ = nnls(np.vstack([balance, ones]), np.array([*np.zeros(len(normal)), 1.0, 1.0]))
    shares = np.zeros(len(points))
    shares[top] += found[: len(top)]
    shares[bottom] -= found[len(top) :]
    return shares
