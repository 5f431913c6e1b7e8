"""What to take off, where, and in how many passes."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa.errors import CannotSay
from qa.geometry import taper, twist
from qa.stock import passes, removal

CORNERS = np.array([[0.0, 0.0], [60.0, 0.0], [0.0, 90.0], [60.0, 90.0]])
TARGET, LOWER, UPPER = 18.0, 17.85, 18.15

oversize = st.lists(st.integers(1785, 1850).map(lambda n: n / 100), min_size=4, max_size=4)
sizes_lists = st.lists(st.integers(1770, 1850).map(lambda n: n / 100), min_size=4, max_size=4)


def part(sizes):
    """Four corner stations with sizes."""
    return np.column_stack([CORNERS, sizes])


def planed(points, take_off):
    """The part once planed."""
    return points - np.outer(take_off, [0, 0, 1])


@settings(deadline=None)
@given(sizes_lists)
def test_without_shape_limits_only_what_is_oversize_comes_off(sizes):
    """The least removal brings each oversize station to the high limit, and no other."""
    found = removal(part(sizes), TARGET, LOWER, UPPER)
    assert found.feasible == (min(sizes) >= LOWER)
    expected = np.maximum(0, np.array(sizes) - UPPER) if found.feasible else np.zeros(4)
    assert found.take_off == pytest.approx(expected, abs=1e-12)


@settings(deadline=None)
@given(oversize, st.sampled_from([0.0, 0.03, 0.1]), st.sampled_from([-0.05, 0.0, 0.2]), st.booleans())
def test_a_planed_part_meets_every_limit(sizes, taper_limit, taper_target, twisted):
    """Sizes, taper and twist lie within their limits afterwards; wood is only ever taken off."""
    points = part(sizes)
    found = removal(
        points, TARGET, LOWER, UPPER, taper_limit, taper_target, twist_limit=0.05 if twisted else None
    )
    assert (found.take_off >= 0).all()
    if not found.feasible:
        assert found.say == "out of reach"
        return
    end = planed(points, found.take_off)
    assert end[:, 2].min() >= LOWER - 1e-9
    assert end[:, 2].max() <= UPPER + 1e-9
    assert abs(taper(end) - taper_target) <= taper_limit + 1e-6
    assert not twisted or abs(twist(end)) <= 0.05 + 1e-6
    assert found.aim == pytest.approx(end[:, 2].mean())


@settings(deadline=None)
@given(
    st.lists(st.integers(0, 5), min_size=4, max_size=4),
    st.integers(0, 2),
    st.one_of(st.none(), st.integers(0, 3)),
)
def test_removal_is_the_least_there_is(steps, taper_steps, twist_steps):
    """Against trying every removal in steps of half a hundredth."""
    step = 0.01
    sizes = LOWER + step * np.array(steps)
    limits = {
        "taper_limit": taper_steps * step,
        "twist_limit": None if twist_steps is None else twist_steps * step,
    }
    upper = LOWER + 3 * step
    found = removal(part(sizes), LOWER + step, LOWER, upper, **limits)
    best = math.inf
    for cut in itertools.product(*(np.arange(0, n + 0.25, 0.5) * step for n in steps)):
        end = planed(part(sizes), cut)
        fits = end[:, 2].max() <= upper + 1e-9 and abs(taper(end)) <= limits["taper_limit"] + 1e-9
        if fits and (twist_steps is None or abs(twist(end)) <= limits["twist_limit"] + 1e-9):
            best = min(best, sum(cut))
    assert found.feasible == (best < math.inf)
    if found.feasible:
        assert found.take_off.sum() == pytest.approx(best, abs=1e-6)


def test_a_fit_part_is_left_alone():
    """Nothing to do: the aim is the size it has."""
    found = removal(part([18.0, 18.02, 18.04, 18.06]), TARGET, LOWER, UPPER, taper_limit=0.1)
    assert (found.say, found.take_off.any(), found.binding) == ("ready", False, ())
    assert found.aim == pytest.approx(18.03)


def test_undersize_cannot_be_planed_away():
    """The worst station is named by index and shortfall; the aim is the one even size still in the part."""
    found = removal(part([18.0, 17.80, 17.82, 18.3]), TARGET, LOWER, UPPER)
    assert (found.feasible, found.say, found.aim) == (False, "undersize", 17.80)
    assert (found.short.index, found.short.by) == (1, pytest.approx(0.05))
    assert not found.take_off.any()


def test_a_station_on_the_low_limit_is_not_undersize():
    """Limits are inclusive, whatever the binary fraction."""
    assert removal(part([0.1 + 0.2] * 4), 0.35, 0.3, 0.4).feasible
    assert removal(part([0.3] * 4), 0.35, 0.1 + 0.2, 0.4).feasible


def test_a_taper_beyond_the_room_there_is():
    """Every station is large enough, yet no planing gives a taper wider than the tolerance."""
    found = removal(part([18.0] * 4), TARGET, LOWER, UPPER, taper_limit=0.01, taper_target=0.5)
    assert (found.feasible, found.say, found.short) == (False, "out of reach", None)


def test_equal_removals_are_shared_towards_the_target():
    """Of two equally small removals, the one that leaves the worst station nearer to target."""
    found = removal(part([18.0, 18.0, 18.14, 18.06]), TARGET, LOWER, UPPER, taper_limit=0.05)
    assert found.take_off == pytest.approx([0, 0, 0.09, 0.01], abs=1e-9)
    assert found.binding == ("taper",)


def test_a_guard_keeps_finished_sizes_off_the_limits():
    """Oversize comes down to the guarded limit; a station in the low guard is left as it is."""
    found = removal(part([17.86, 18.0, 18.0, 18.3]), TARGET, LOWER, UPPER, guard=0.03)
    assert found.take_off == pytest.approx([0, 0, 0, 0.18])
    assert found.binding == ("upper",)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: removal(part([18.0, math.nan, 18.0, 18.0]), TARGET, LOWER, UPPER),
        lambda: removal([], TARGET, LOWER, UPPER),
        lambda: removal(part([18.0] * 4), math.nan, LOWER, UPPER),
        lambda: removal(part([18.0] * 4), TARGET, UPPER, LOWER),
        lambda: removal(part([18.0] * 4), TARGET, -math.inf, UPPER),
        lambda: removal(part([18.0] * 4), TARGET, LOWER, UPPER, taper_limit=-0.1),
        lambda: removal(part([18.0] * 4), TARGET, LOWER, UPPER, taper_limit=math.nan),
        lambda: removal(part([18.0] * 4), TARGET, LOWER, UPPER, guard=0.2),
        lambda: removal([[0, 0, 18.0], [60, 0, 18.0]], TARGET, LOWER, UPPER, taper_limit=0.1),
        lambda: removal([[0, 0, 18.0], [60, 90, 18.0]], TARGET, LOWER, UPPER, twist_limit=0.1),
        lambda: passes([18.5, 18.4, 18.3], -0.1),
        lambda: passes([18.5, math.nan, 18.3], 0.1),
        lambda: passes([18.3, 18.4, 18.5], 0.1),
        lambda: passes([], 0.1),
    ],
)
def test_advice_is_refused_where_there_is_none(ask):
    """Not finite, reversed, no room, stations that cannot tell, a log that shows wood growing."""
    with pytest.raises(CannotSay):
        ask()


def test_passes_are_learnt_from_this_parts_own_log():
    """0.10 a pass, give or take 0.02: 0.32 is about four more."""
    found = passes([20.00, 19.90, 19.78, 19.70], 0.32)
    assert (found.likely, found.logged) == (4, 3)
    assert (found.per_pass, found.spread) == (pytest.approx(0.10), pytest.approx(0.02))
    assert found.fewest <= 4 <= found.most


def test_two_passes_or_none_say_little():
    """One pass tells no spread; two uneven ones leave the most unsaid."""
    assert passes([20.0, 19.9], 0.3) is None
    assert passes([20.0, 19.9, 19.6], 0.3).most is None


def test_nothing_left_takes_no_passes():
    """Done is done."""
    assert passes([20.0, 19.9, 19.8], 0.0).likely == 0


@settings(deadline=None)
@given(st.lists(st.floats(0.02, 0.2), min_size=2, max_size=12), st.floats(0.01, 3))
def test_a_range_of_passes_holds_its_middle(cuts, remaining):
    """Fewest, likely and most come in order."""
    found = passes(20 - np.concatenate([[0], np.cumsum(cuts)]), remaining)
    assert 1 <= found.fewest <= found.likely
    assert found.most is None or found.likely <= found.most
