"""Some builds of many at a time: which are shown, how many are judged for them, and what comes beside."""

from __future__ import annotations

import pytest

from dashboard.views.window import LOOKED_AT, NEAR, SHOWN, beginning, window
from qa.checking import Checked
from qa.judge import JudgedBuild

NAMES = [f"B-{number}" for number in range(1000, 0, -1)]


class Judge:
    """Judges builds whose number is no multiple of 250, and keeps which it was asked for."""

    def __init__(self) -> None:
        self.asked: list[str] = []

    def __call__(self, names):
        self.asked += names
        failing = [name for name in names if number(name) % 250 == 0]
        good = [JudgedBuild(name, "m", "p", ()) for name in names if name not in failing]
        return Checked(good, [(name, "its plan is gone") for name in failing])


def number(name: str) -> int:
    return int(name[2:])


def rare(build) -> bool:
    return number(build.build) % 100 == 7


@pytest.mark.parametrize("wanted", [None, rare, lambda build: number(build.build) % 2 == 0])
def test_going_on_shows_every_build_once(wanted):
    """From the newest to the oldest: each wanted once, each failing one told, few judged a page."""
    shown, failed, start, judged = [], [], "", 0
    while start is not None:
        judge = Judge()
        seen = window(NAMES, start, judge, wanted)
        shown += [item.build for item in seen.shown]
        failed += [name for name, _ in seen.problems]
        assert len(seen.shown) <= SHOWN
        judged = max(judged, len(judge.asked))
        start = seen.older

    good = [JudgedBuild(name, "m", "p", ()) for name in NAMES if number(name) % 250]
    assert shown == [item.build for item in good if wanted is None or wanted(item)]
    assert failed == ["B-1000", "B-750", "B-500", "B-250"]
    assert judged <= (2 * LOOKED_AT + SHOWN if wanted else SHOWN)


@pytest.mark.parametrize("wanted", [None, rare])
def test_going_back_meets_the_newest_again(wanted):
    """Every step back ends where the page before it began, and the first has nothing newer."""
    start, seen = "B-500", window(NAMES, "B-500", Judge(), wanted)
    while seen.newer is not None:
        before = window(NAMES, seen.newer, Judge(), wanted)
        assert before.end >= NAMES.index(start)
        start, seen = seen.newer, before
    assert (start, seen.first) == ("B-1000", 0)


def test_a_name_that_is_not_there_begins_at_the_newest():
    """An address whose build another choice leaves out still shows something."""
    assert window(NAMES, "X-1", Judge()).shown[0].build == "B-999"
    empty = window([], "", Judge())
    assert (empty.shown, empty.newer, empty.older) == ((), None, None)


@pytest.mark.parametrize("wanted", [None, rare])
@pytest.mark.parametrize("start", ["", "B-1000", "B-961", "B-960", "B-880", "B-500", "B-1", "X-1"])
def test_only_the_beginning_of_the_names_is_asked_for(start, wanted):
    """No more for the first window than it needs, and for any as many as show the same as all would."""
    names = beginning(lambda most: NAMES[:most], start, wanted)
    if not start:
        assert len(names) == (LOOKED_AT if wanted else SHOWN) + 1

    some, every = (window(these, start, Judge(), wanted) for these in (names, NAMES))
    assert some == every


def test_all_names_are_asked_for_only_far_from_the_first():
    """The last window near the first asks once; the one after it asks for all."""
    last = NEAR * (SHOWN + 1) - SHOWN - 1
    for start, times in ((NAMES[last], 1), (NAMES[last + 1], 2)):
        asked = []
        beginning(lambda most, asked=asked: asked.append(most) or NAMES[:most], start)
        assert len(asked) == times
