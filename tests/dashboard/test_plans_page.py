"""The Plans pages: a part as planned, and its form with problems beside the fields."""

from __future__ import annotations

import json

import pytest

from dashboard.pages import plan_edit, plans
from dashboard.plan_form import IN_PLACE, KIND, REVISION, placed
from qa.errors import PlanError, PlanProblem, ShopError
from qa.plans.edit import fields_of

TAIL = {"model": "travel-guitar", "part": "tail-block"}
TARGET = "parts.tail-block.characteristics.thickness.target"


def as_json(component) -> str:
    return json.dumps(
        component.to_plotly_json(), default=lambda item: item.to_plotly_json(), ensure_ascii=False
    )


@pytest.fixture
def asked(full_desk):
    """What the form of the tail block sends back with its fields, and those as they are."""
    plan = full_desk.shop().plan("travel-guitar")
    fields = fields_of(plan.text, "tail-block", "travel-guitar.toml")
    return TAIL | {"revision": plan.name, "digest": plan.digest}, {item.id: item.text for item in fields}


def test_a_part_is_drawn_and_tabled(full_desk):
    """With what each characteristic is held to, in the unit chosen."""
    text = as_json(plans.content(full_desk, TAIL))
    inches = as_json(plans.content(full_desk, TAIL | {"unit": "in"}))

    assert "<svg" in text
    assert "target 22.00 mm, 21.75 mm to 22.25 mm" in text
    assert "computed from thickness" in text
    assert "6 builds judged by it" in text
    assert "target 0.8661 in" in inches


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"part": "tale-block"}, "tail-block"),
        ({"revision": "old"}, "travel-guitar"),
        ({"model": "lute"}, "lap-harp"),
    ],
)
def test_an_address_out_of_date_names_what_there_is(full_desk, query, words):
    """Part, revision and model."""
    with pytest.raises(ShopError, match=words):
        plans.content(full_desk, {"model": "travel-guitar"} | query)


def test_the_form_has_a_field_for_every_amount(full_desk, asked):
    """And says how many builds are judged anew."""
    text = as_json(plan_edit.content(full_desk, TAIL))

    assert text.count(f'"{KIND}"') == len(asked[1])
    assert "6 builds are judged by it, and will be judged anew" in text


def test_a_saved_plan_judges_anew(full_desk, asked):
    """The file holds what was typed, and the shop reads it at once."""
    answer = plan_edit._save(full_desk, asked[0], asked[1] | {TARGET: "22.05"}, IN_PLACE, None)

    assert "thickness target: 22.0 to 22.05" in as_json(answer)
    assert "target = 22.05" in (full_desk.folder / "plans" / "travel-guitar.toml").read_text()
    assert "target 22.05 mm" in as_json(plans.content(full_desk, TAIL))


def test_a_revision_leaves_earlier_builds_to_the_old_plan(full_desk, asked):
    """The builds of March stay; from April on the new one holds."""
    plan_edit._save(full_desk, asked[0], asked[1] | {TARGET: "22.05"}, REVISION, "2025-04-01")
    text = as_json(plans.content(full_desk, TAIL))

    assert (full_desk.folder / "plans" / "travel-guitar-2025-04-01.toml").is_file()
    assert "0 builds judged by it" in text
    assert "from 2025-04-01" in text


@pytest.mark.parametrize(
    ("typed", "how", "since", "why"),
    [
        ({}, IN_PLACE, None, "Nothing was changed"),
        ({TARGET: "23"}, REVISION, "", "Give the day"),
    ],
)
def test_what_is_not_saved_says_why(full_desk, asked, typed, how, since, why):
    """The file stays as it was."""
    with pytest.raises(ShopError, match=why):
        plan_edit._save(full_desk, asked[0], asked[1] | typed, how, since)


def test_a_plan_changed_meanwhile_is_not_overwritten(full_desk, asked):
    """A stale form is refused with a sentence."""
    path = full_desk.folder / "plans" / "travel-guitar.toml"
    path.write_text(path.read_text() + "# a note\n")
    with pytest.raises(ShopError, match="was changed since this page was opened"):
        plan_edit._save(full_desk, asked[0], asked[1] | {TARGET: "23"}, IN_PLACE, None)


def test_a_problem_is_placed_beside_its_field(full_desk, asked):
    """Also one of a list, or of a table of places; one of no field is told above."""
    with pytest.raises(PlanError) as told:
        plan_edit._save(full_desk, asked[0], asked[1] | {TARGET: "twenty"}, IN_PLACE, None)
    beside, others = placed(told.value.problems, list(asked[1]))
    assert "not a number" in beside[TARGET]
    assert others == []

    ids = ["a.tolerance#0", "a.tolerance#1", "a.stations.top#0"]
    found = [PlanProblem("f", 1, key, key) for key in ("a.tolerance", "a.stations", "b.mates", "")]
    assert placed(found, ids) == (
        {"a.tolerance#0": "a.tolerance", "a.stations.top#0": "a.stations"},
        ["b.mates: b.mates", ""],
    )
