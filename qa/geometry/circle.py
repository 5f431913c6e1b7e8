"""Arcs read by chord and sagitta, gaps and angles (plane geometry, no further source)."""

from __future__ import annotations

import math

from qa.arithmetic import finite
from qa.errors import CannotSay


def sagitta(radius: float, chord: float) -> float:
    """Height of an arc of `radius` over `chord` (all mm): R - sqrt(R^2 - c^2/4).

    CannotSay unless both are above zero and the chord is at most 2 R.
    """
    r, half = finite.positive(radius, "radius"), finite.positive(chord, "chord") / 2
    if half > r * (1 + 1e-12):
        raise CannotSay(f"a chord of {chord:g} does not fit a circle of radius {radius:g}")
    return half * half / (r + math.sqrt(max(0.0, (r - half) * (r + half))))


def radius_from_sagitta(chord: float, sagitta: float) -> float:
    """Radius of the arc that rises by `sagitta` over `chord` (all mm): c^2/(8 s) + s/2.

    CannotSay unless both are above zero and the arc is at most a half circle (a chord cannot tell more).
    """
    c, s = finite.positive(chord, "chord"), finite.positive(sagitta, "sagitta")
    _at_most_half(c, s)
    return c * c / (8 * s) + s / 2


def radius_gap(chord: float, sagitta: float, mould_radius: float, fit_width: float) -> float:
    """Gap at the edges of `fit_width` between an outside radius and its mould, in mm, signed.

    chord, sagitta: as read on the part (sagitta 0 flat, negative hollow). Held to the hollow mould, a part
    rounder than it touches in the middle and the gap is at the edges (+); a flatter one touches at its
    edges and the gap, of the same size, is in the middle (-). CannotSay where an arc is more than a half
    circle. The difference of the two sagittas over `fit_width`.
    """
    curve, half = _curve(chord, sagitta), _half_fitting(chord, sagitta, fit_width)
    rise = curve * half * half / (1 + _cosine(curve, half))
    return rise - _mould_sagitta(mould_radius, fit_width)


def radius_gap_slope(chord: float, sagitta: float, fit_width: float) -> float:
    """d radius_gap / d sagitta read (mm per mm): the sensitivity for an uncertainty budget."""
    curve, half = _curve(chord, sagitta), _half_fitting(chord, sagitta, fit_width)
    cosine = _cosine(curve, half)
    per_curve = half * half / (cosine * (1 + cosine)) if cosine else math.inf
    c2, s2 = chord * chord, 4 * sagitta * sagitta
    slope = per_curve * 8 * (c2 - s2) / (c2 + s2) ** 2
    if not math.isfinite(slope):
        raise CannotSay("a half circle's gap has no finite sensitivity; read it over a narrower width")
    return slope


def angle(gap: float, length: float) -> float:
    """Angle in degrees of a `gap` at `length` from the corner (both mm, gap signed): atan(gap / length)."""
    return math.degrees(math.atan2(finite.number(gap, "gap"), finite.positive(length, "length")))


def gap_over(gap: float, length: float, over: float) -> float:
    """The gap a straight edge would show at `over` when it shows `gap` at `length` (all mm)."""
    return finite.number(gap, "gap") / finite.positive(length, "length") * finite.positive(over, "over")


def _at_most_half(chord: float, sagitta: float) -> None:
    if 2 * abs(sagitta) > chord * (1 + 1e-12):
        raise CannotSay(
            f"a sagitta of {sagitta:g} over a chord of {chord:g} is more than a half circle; read both again"
        )


def _curve(chord: float, sagitta: float) -> float:
    """Curvature 1/R, signed."""
    c, s = finite.positive(chord, "chord"), finite.number(sagitta, "sagitta")
    _at_most_half(c, s)
    return 8 * s / (c * c + 4 * s * s)


def _half_fitting(chord: float, sagitta: float, fit_width: float) -> float:
    half = finite.positive(fit_width, "fit width") / 2
    curve = abs(_curve(chord, sagitta))
    if curve * half > 1 + 1e-12:
        raise CannotSay(f"a part of radius {1 / curve:g} is narrower than the fit width {fit_width:g}")
    return half


def _cosine(curve: float, half: float) -> float:
    return math.sqrt(max(0.0, (1 - curve * half) * (1 + curve * half)))


_mould_sagitta = sagitta  # inside radius_gap the word names the reading
