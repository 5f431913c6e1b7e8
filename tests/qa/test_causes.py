"""Causes told apart on invented panels: each kind, none at all, two too near, and bad input."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa.causes.design import by_kind, design
from qa.causes.likely import likely_causes, search, shuffled_gains
from qa.causes.panel import AT_THE_CUT, SINCE_THE_CUT, Panel
from qa.causes.scores import greatest_gains, power, scatter
from qa.causes.words import TESTS, apart, evidence, strength
from qa.drift.patterns import patterns
from qa.drift.shape import change, changes
from qa.errors import CannotSay

BUILDS = 24
NAMES = ("brace", "lining", "top", "back", "block", "patch", "block taper", "patch taper")
MACHINES = ("saw", "saw", "sander", "sander", "plane", "plane", "plane", "plane")


def panel(added=0.0, seed=1, builds=BUILDS, settled=None):
    """Eight series of standard deviation 0.04 made at two benches, each with its own caliper."""
    values = np.random.default_rng(seed).normal(0, 0.04, (builds, len(NAMES))) + added
    north = np.arange(builds) % 2 == 0
    return Panel(
        tuple(f"B-{n:02d}" for n in range(1, builds + 1)),
        NAMES,
        values,
        np.tile(np.where(north, "CAL-1", "CAL-2")[:, None], (1, len(NAMES))),
        np.tile(np.array(MACHINES), (builds, 1)),
        np.where(north, "North", "South"),
        np.array(["taper" not in name for name in NAMES]),
        np.full(values.shape, np.nan) if settled is None else settled,
    )


def moved(columns, rows, amount):
    """What a story adds: an amount (or one a build) to some columns at some builds."""
    added = np.zeros((BUILDS, len(NAMES)))
    added[np.ix_(rows, columns)] = np.broadcast_to(
        np.asarray(amount, float).reshape(-1, 1), (len(rows), len(columns))
    )
    return added


def test_nothing_happened():
    """No cause of a quiet shop, in 19 of 20 at least."""
    named = sum(bool(likely_causes(panel(seed=seed), shuffles=199)) for seed in range(20))
    assert named <= 1


def test_a_caliper_moves_all_sizes_it_reads_alike():
    """CAL-2 high on three builds in a row of its own; tapers stay."""
    (found,) = likely_causes(panel(moved(range(6), [13, 15, 17], 0.12)))
    assert (found.kind, found.name, found.since, found.until) == ("instrument", "CAL-2", "B-14", "B-18")
    assert found.amount == pytest.approx(0.12, abs=0.04)
    assert set(found.series) == set(NAMES[:6])
    assert "gauge block" in apart(found)


def test_a_fence_moves_all_that_comes_from_its_machine():
    """Both sawn widths creep; what is planed or sanded stays."""
    rows = range(8, 20)
    (found,) = likely_causes(panel(moved([0, 1], rows, np.linspace(0.03, 0.3, 12))))
    assert (found.kind, found.name, found.shape) == ("machine", "saw", "creep")
    assert found.since in ("B-07", "B-08", "B-09", "B-10")
    assert found.until == "B-20"
    assert found.settled
    assert found.looks == 2


@pytest.mark.parametrize(
    ("series", "named", "both"),
    [
        (NAMES[:2], "brace and lining", "both"),
        (NAMES[:7], "brace, lining, top, back, block and 2 more", "all"),
    ],
)
def test_the_series_of_a_machine_are_counted_as_series(series, named, both):
    """Both where they are two; of many the first few are named, and the rest are no builds."""
    (found,) = likely_causes(panel(moved([0, 1], range(8, 20), np.linspace(0.03, 0.3, 12))))
    cause = replace(found, series=series, since="B-09", until="B-20", amount=0.3)
    told = evidence(cause, (), lambda value: f"{value:.2f}")
    assert told.startswith(
        f"{named} crept together by 0.30 from about B-09 to B-20; {both} come from the saw."
    )


def test_a_build_just_begun_does_not_hide_a_fence():
    """One part read by hand, no machine named, leaves every other series with a gap in the newest build."""
    fence = moved([0, 1], range(8, 18), np.linspace(0.03, 0.28, 10))
    begun = panel(fence)
    begun.deviations[-1, [name != "block" for name in NAMES]] = np.nan
    begun.deviations[-1, NAMES.index("block")] = 0.05
    begun.machines[-1, :] = ""

    laid = design(begun)
    (first, _), *_ = search(begun, laid, 12.0)[0]
    by_chance = shuffled_gains(begun, laid, search(begun, laid, 12.0)[1], 199, ["machine"])["machine"].max()

    assert first.candidate.name == "saw"
    assert by_chance < first.gain / 3  # half of it, before what the gaps lent was taken away
    assert [cause.name for cause in likely_causes(begun) if cause.kind == "machine"] == ["saw"]


def test_one_size_of_a_part_just_begun_convicts_no_caliper():
    """However far off it is, what one caliper read there is one reading, not all its sizes."""
    begun = panel()
    begun.deviations[-1, [name != "block" for name in NAMES]] = np.nan
    begun.deviations[-1, NAMES.index("block")] = 0.6

    assert [cause for cause in likely_causes(begun) if cause.kind in ("instrument", "machine")] == []


def test_a_bench_moves_its_own_taper():
    """South's block taper, until it changed its hold; not North's, which is on target."""
    (found,) = likely_causes(panel(moved([6], range(1, 18, 2), 0.15)))
    assert (found.kind, found.name) == ("bench", "South: block taper")
    assert found.until in ("B-16", "B-18", "B-20")


def test_the_air_moves_wood_in_proportion():
    """What the wood's coefficient foretells, in full; along the grain (nothing foretold) it is no cause."""
    settled = np.full((BUILDS, len(NAMES)), np.nan)
    settled[:, 7] = np.repeat([0.0, 0.1, -0.1, 0.02], 6)
    added = np.nan_to_num(settled)
    (found,) = likely_causes(panel(added, settled=settled))
    assert (found.kind, found.name) == ("humidity", SINCE_THE_CUT)
    assert found.amount == pytest.approx(1, abs=0.4)
    assert AT_THE_CUT != SINCE_THE_CUT
    still = likely_causes(panel(added, settled=np.zeros_like(settled)))
    assert all(cause.kind != "humidity" for cause in still)


def test_a_series_that_moved_by_itself_is_told_so():
    """One sanded size steps while the sander's other size stays: time, and no machine blamed."""
    (found,) = likely_causes(panel(moved([2], range(10, 24), 0.2)))
    assert (found.kind, found.name, found.since, found.until) == ("time", "top", "B-11", None)


@pytest.mark.parametrize(
    ("columns", "off", "patterned"), [([2], range(10, 24), (10, 23)), ([0, 1], range(10), (0, 9))]
)
def test_a_step_is_told_by_the_builds_that_are_off(columns, off, patterned):
    """That the others moved the other way fits as well; the target tells which it is."""
    for seed in range(12):
        whole = panel(moved(columns, off, 0.2), seed=seed)
        laid = design(whole)
        first = search(whole, laid, 12.0)[0][0][0]
        assert (laid.patterns.first[first.pattern], laid.patterns.last[first.pattern]) == patterned
        assert first.amount == pytest.approx(0.2, abs=0.05)


def test_a_creep_ends_at_a_build_that_was_read():
    """A build without a reading after it makes a longer creep fit as well, further than anything was read."""
    for seed in range(12):
        whole = panel(moved([0, 1], range(8, 20), np.linspace(0.03, 0.3, 12)), seed=seed)
        whole.deviations[20:22, :2] = np.nan
        laid = design(whole)
        first = search(whole, laid, 12.0)[0][0][0]
        assert laid.patterns.creep[first.pattern]
        assert laid.patterns.last[first.pattern] == 19


def test_two_near_causes_are_not_told_apart():
    """Two parts of one saw, one moved twice as far: machine or that part alone? Say how many builds more."""
    added = moved([0], range(12, 24), 0.12) + moved([1], range(12, 24), 0.05)
    near = [
        c for seed in range(6) for c in likely_causes(panel(added, seed=seed), shuffles=199) if not c.settled
    ]
    assert near
    assert {near[0].kind, near[0].rival.kind} <= set(TESTS)
    assert near[0].more_builds >= 1
    assert strength(near[0]).startswith("can't tell yet")
    assert "more builds" in strength(near[0])


def test_too_few_builds_cannot_say():
    """Four builds show no cause; five may."""
    with pytest.raises(CannotSay, match="measure 1 more"):
        likely_causes(panel(builds=4))
    assert likely_causes(panel(builds=5), shuffles=49) == []


def test_more_than_sixty_builds_are_judged_by_the_newest():
    """A step eighty builds ago is history."""
    added = np.zeros((140, len(NAMES)))
    added[:60] = 1.0
    assert likely_causes(panel(added, builds=140), shuffles=49) == []


@settings(deadline=None, max_examples=25)
@given(st.integers(5, 12), st.integers(0, 2**32 - 1), st.sampled_from([0.0, 0.5, 1.0]))
def test_gaps_ties_and_outliers_break_nothing(builds, seed, gone):
    """Any readings missing, coarse steps, one 25.4 times too large: causes or none, their numbers finite."""
    random = np.random.default_rng(seed)
    whole = panel(seed=seed % 1000, builds=builds)
    values = np.round(whole.deviations, 1)
    values[random.random(values.shape) < gone / 2] = np.nan
    values[random.integers(builds), random.integers(len(NAMES))] = 25.4
    given_panel = Panel(
        whole.builds, whole.series, values, whole.instruments, whole.machines, whole.benches, whole.absolute,
        whole.settled,
    )  # fmt: skip
    for cause in likely_causes(given_panel, shuffles=19, alpha=1.0):
        assert np.isfinite([cause.amount, cause.gain, cause.p]).all()
        assert cause.since in whole.builds


def test_patterns_cover_every_span_once():
    """n(n+1)/2 steps, creeps of four builds or more, each with its count of free parameters."""
    found = patterns(10)
    assert (~found.creep).sum() == 55
    assert found.creep.sum() == 28
    assert found.parameters[(found.first == 0) & (found.last == 9)].tolist() == [1, 1]
    assert found.rows.max() == 1
    with pytest.raises(CannotSay):
        patterns(61)


@pytest.mark.parametrize("precision", [np.float64, np.float32])
@pytest.mark.parametrize("builds", [2, 3, 5, 36, 60])
@pytest.mark.parametrize("some", [lambda found: found.first >= 0, lambda found: found.parameters == 2])
def test_running_sums_are_the_product_of_matrices(builds, some, precision):
    """Every pattern times values of any shape, a piece of patterns at a time or at once; so its squares."""
    found = patterns(builds).only(some(patterns(builds)))
    values = np.random.default_rng(builds).normal(size=(builds, 7, 50)).astype(precision)
    close = {"rtol": 0, "atol": 1e-13 if precision is np.float64 else 5e-6}
    wanted = np.tensordot(found.rows, values.astype(float), 1)

    assert found.sums(values).dtype == precision
    np.testing.assert_allclose(found.sums(values), wanted, **close)
    for rows, piece in found.pieces(values):
        np.testing.assert_allclose(piece, wanted[rows], **close)
    np.testing.assert_allclose(found.within(values), np.tensordot(found.rows > 0, values, 1), atol=5e-5)
    flat = values[:, 0].astype(float)
    np.testing.assert_allclose(found.squares(flat), found.rows**2 @ flat, rtol=0, atol=1e-12)


@pytest.mark.parametrize("gone", [0.0, 0.2])
def test_many_panels_at_a_time_gain_what_each_gains_alone(gone):
    """The greatest gain of each kind is that of its strongest pattern, less what it costs."""
    whole = panel(moved([0, 1], range(8, 20), 0.1), seed=2)
    whole.deviations[np.random.default_rng(3).random(whole.deviations.shape) < gone] = np.nan
    laid, present = design(whole), np.isfinite(whole.deviations)
    left = np.where(present, whole.deviations, 0.0)
    left = np.where(present, left - left.sum(axis=0) / present.sum(axis=0), 0.0)
    by = scatter(whole, left)

    for own in by_kind(laid).values():
        alone = (power(own, left, by)[0] - own.penalty[:, None]).max()
        others = (power(own, -left[::-1] * present, by)[0] - own.penalty[:, None]).max()
        found = greatest_gains(own, np.array([left, -left[::-1] * present]), by)
        assert found == pytest.approx([alone, others], abs=1e-3)


def test_a_change_is_placed_and_tested():
    """A plain step is placed between its builds; noise has a large p, and equal values none at all."""
    noise = np.random.default_rng(3).normal(0, 0.05, 24)
    step = change([*noise[:14], *(noise[14:] + 0.3)])
    assert (step.shape, step.first, step.last) == ("step", 14, None)
    assert step.low <= 14 <= step.high
    assert step.p <= 0.002
    assert change(noise.tolist()).p > 0.05
    assert changes([[0.1] * 8, [0.1, 0.2], [0.2] + [0.1] * 60]) == [None, None, None]
    with pytest.raises(CannotSay):
        change([0.1, 0.2])


def test_a_lasting_step_has_an_end_before_which_it_did_not_begin():
    """A spell since the first build fits as well, but its beginning is not the step's."""
    rows = np.random.default_rng(1).normal(0, 0.05, (30, 24)) + np.where(np.arange(24) < 14, 0.0, 0.3)
    for found in changes(list(rows), shuffles=19):
        assert (found.shape, found.last) == ("step", None)
        assert 10 <= found.low <= found.first <= found.high <= 18


def test_equal_values_in_an_order_as_good_count():
    """Of the twenty orders of three and three, two are as clear a step; four more a spell, free in more."""
    assert change([0, 0, 0, 0.1, 0.1, 0.1]).p == pytest.approx(0.1, abs=0.03)
    assert change([0, 0, 0.1, 0.1, 0.1, 0]).p == pytest.approx(0.3, abs=0.04)


def test_other_orders_on_either_side_of_a_step_are_as_good():
    """However single precision rounds their sums: two of the twenty ways to part six, of seventy eight."""
    assert change([0.02, 0, 0.01, 0.31, 0.3, 0.33]).p == pytest.approx(0.1, abs=0.03)
    assert change([0.02, 0, 0.03, 0.01, 0.31, 0.3, 0.33, 0.32]).p == pytest.approx(2 / 70, abs=0.015)


def test_chance_of_a_change_is_uniform_without_one():
    """Of 200 quiet series about one in twenty has p below 0.05."""
    rows = np.random.default_rng(4).normal(size=(200, 16))
    chances = np.array([found.p for found in changes(list(rows))])
    assert 0.02 <= (chances <= 0.05).mean() <= 0.09
    assert 0.4 <= (chances <= 0.5).mean() <= 0.6
