"""Builds chosen and put in order by the database."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from qa.store.newest import how_many_builds, models_begun, newest
from qa.store.store import open_store, stored_row

FEW = 1
"""Readings looked at for each build, so few that a small store is a large one."""
YEARS = ((1960, 1969, 2024, 2025), (1969, 2025, 2090, 2091))
"""Past ones, and some ahead of when a build is named."""


@pytest.fixture
def filled(store, plan, reading, monkeypatch):
    """Four builds of two models, stored in another order than begun: PG-2, OC_1, PG-10, then pg-3."""
    monkeypatch.setattr("qa.store.newest.READINGS_A_BUILD", FEW)
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
        ({"most": 5}, ["pg-3", "PG-10", "OC_1", "PG-2"]),
        ({"model": "octave-mandolin"}, ["OC_1"]),
        ({"model": "octave-mandolin", "most": 1}, ["OC_1"]),
        ({"bench": "South"}, ["pg-3", "PG-2"]),
        ({"text": "PG-"}, ["pg-3", "PG-10", "PG-2"]),
        ({"bench": "North", "most": 1}, ["PG-10"]),
        ({"text": "c_1"}, ["OC_1"]),
        ({"text": "G_1"}, []),
        ({"text": "%"}, []),
        ({"bench": "North", "text": "2"}, ["PG-2"]),
    ],
)
def test_builds_are_found_the_newest_first(filled, asked, found):
    """By when each was begun, whenever it was stored; a piece of a name is no pattern."""
    assert newest(filled, **asked) == found
    if "most" not in asked:
        assert how_many_builds(filled, **asked) == len(found)


def test_what_there_is_to_choose_from(filled):
    """Every model once, and how many builds."""
    assert models_begun(filled) == ["octave-mandolin", "parlour-guitar"]
    assert how_many_builds(filled) == 4


def days(years):
    """One day or two: builds that are named, each with the years in which it was read."""
    names, read = st.sampled_from("abcdefghijkl"), st.lists(st.sampled_from(years), max_size=2)
    return st.lists(st.dictionaries(names, read, min_size=3), min_size=1, max_size=2)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@example([{"a": [2024], "b": [2025], "c": []}], 1)
@example([{"a": [2024], "b": [2025]}, {"c": []}], 1)
@example([{"a": [1969], "b": [1960], "c": [2025]}], 1)
@given(st.sampled_from(YEARS).flatmap(days), st.integers(1, 3))
def test_a_few_are_the_first_of_all(tmp_path_factory, plan, reading, named, most):
    """Builds named before they were begun or long after, begun at one moment, before 1970, never read.

    Asked again after each day, against the order in which all builds were begun.
    """
    url = f"sqlite:///{tmp_path_factory.mktemp('newest')}/store.db"
    with pytest.MonkeyPatch.context() as patch, open_store(url) as store:
        patch.setattr("qa.store.newest.READINGS_A_BUILD", FEW)
        for second, day in enumerate(named):
            with store.writing() as connection:
                for build in day:
                    store.note_build(connection, build, plan)
                rows = [
                    reading(second, build=build, taken_at=f"{year}-01-01T00:00:00.000000Z")
                    for build, years in day.items()
                    for year in years
                ]
                store.append_rows(connection, [stored_row(row, plan.digest) for row in rows])
            every = list(store.builds())[::-1]
            assert newest(store, most=most) == every[:most]
            assert newest(store) == every
