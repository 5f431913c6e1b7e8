"""A series in a few numbers that can be checked by hand."""

from __future__ import annotations

import math

import pytest

from qa.conformity import Verdict
from qa.drift.builds import Point
from qa.drift.summary import from_target, summarise
from qa.judge import Judged


def point(build, value, verdict=Verdict.CONFORMS, target=8.0, lower=7.85, upper=8.15) -> Point:
    judged = Judged("width", "middle", "width", "mm", target, lower, upper, verdict, value)
    return Point(build, judged, "CAL-1", "North", "", None)


def test_mean_and_spread_are_of_the_deviations():
    """Deviations -0.1, 0, 0.1: mean 0, standard deviation 0.1."""
    found = summarise([point("A", 7.9), point("B", 8.0), point("C", 8.1)])

    assert found.builds == 3
    assert found.mean_deviation == pytest.approx(0.0, abs=1e-12)
    assert found.standard_deviation == pytest.approx(0.1)


def test_builds_are_named_by_verdict_in_their_order():
    """Those outside and those undecided, apart."""
    verdicts = (Verdict.DOES_NOT_CONFORM, Verdict.CONFORMS, Verdict.UNDECIDED, Verdict.DOES_NOT_CONFORM)
    found = summarise([point(name, 8.0, verdict) for name, verdict in zip("ABCD", verdicts, strict=True)])

    assert found.outside == ("A", "D")
    assert found.undecided == ("C",)


def test_each_build_is_measured_from_its_own_plan_s_target():
    """A revised target moves no point: both builds are 0.02 above theirs."""
    rows = from_target(
        [
            point("A", 2.62, target=2.60, lower=2.5, upper=2.7),
            point("B", 2.57, target=2.55, lower=2.45, upper=None),
        ]
    )

    assert [row.deviation for row in rows] == pytest.approx([0.02, 0.02])
    assert rows[0].lower == pytest.approx(-0.1)
    assert rows[1].upper is None


def test_without_a_target_the_distances_are_the_values():
    """A characteristic with only an upper limit."""
    (row,) = from_target([point("A", 0.06, target=None, lower=None, upper=0.08)])

    assert (row.deviation, row.lower, row.upper) == (0.06, None, 0.08)


def test_too_few_builds_give_no_numbers():
    """No mean of nothing, no spread of one."""
    assert summarise([]).mean_deviation is None
    assert summarise([point("A", 8.0)]).standard_deviation is None


def test_what_is_not_a_number_is_left_out():
    """A value that cannot be plotted is not counted."""
    assert summarise([point("A", math.nan), point("B", None)]).builds == 0
