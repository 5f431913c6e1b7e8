"""Builds chosen and put in order by the database."""

from dataclasses import replace

import pytest

from qa.store.newest import how_many_builds, models_begun, newest


@pytest.fixture
def filled(store, plan, reading):
    """Four builds of two models, stored in another order than begun: PG-2, OC_1, PG-10, then pg-3."""
    other = replace(plan, model="octave-mandolin", digest="other")
    for second, name, of, bench in (
        (30, "PG-10", plan, "North"),
        (40, "pg-3", plan, "South"),
        (10, "PG-2", plan, "North"),
        (20, "OC_1", other, ""),
        (50, "PG-2", plan, "South"),
    ):
        store.append(reading(second, build=name, bench=bench), of)
    return store


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({}, ["pg-3", "PG-10", "OC_1", "PG-2"]),
        ({"most": 2}, ["pg-3", "PG-10"]),
        ({"model": "octave-mandolin"}, ["OC_1"]),
        ({"bench": "South"}, ["pg-3", "PG-2"]),
        ({"text": "PG-"}, ["pg-3", "PG-10", "PG-2"]),
        ({"text": "c_1"}, ["OC_1"]),
        ({"text": "G_1"}, []),
        ({"text": "%"}, []),
        ({"bench": "North", "text": "2"}, ["PG-2"]),
    ],
)
def test_builds_are_found_the_newest_first(filled, asked, found):
    """By when each was begun, whenever it was stored; a piece of a name is no pattern."""
    assert newest(filled, **asked) == found


def test_what_there_is_to_choose_from(filled):
    """Every model once, and how many builds."""
    assert models_begun(filled) == ["octave-mandolin", "parlour-guitar"]
    assert how_many_builds(filled) == 4
