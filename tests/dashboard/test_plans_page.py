"""The Plans pages: a part as planned, and its form with problems beside the fields."""

from __future__ import annotations

import hashlib
import json
import shutil
from urllib.parse import parse_qsl

import pytest

from dashboard.desk import Desk
from dashboard.pages import plan_edit, plan_new, plans
from dashboard.plan_draft import Draft, placed
from dashboard.plan_form import KIND, fields_of, key_of, path_of
from dashboard.plan_saving import IN_PLACE, REVISION, open_again, save
from qa.errors import PlanChanged, PlanError, PlanProblem, ShopError

TAIL = {"model": "travel-guitar", "part": "tail-block"}
PART = ("parts", "tail-block")
TARGET = "parts.tail-block.characteristics.thickness.target"


def as_json(component) -> str:
    return json.dumps(
        component.to_plotly_json(), default=lambda item: item.to_plotly_json(), ensure_ascii=False
    )


@pytest.fixture(scope="module")
def made(shops, tmp_path_factory):
    """A shop with seven builds, made once."""
    return shops.full_shop(tmp_path_factory.mktemp("plans") / "shop")


@pytest.fixture
def full_desk(made, tmp_path):
    """A desk over a copy of that shop."""
    desk = Desk(shutil.copytree(made, tmp_path / "shop"))
    yield desk
    desk.close()


@pytest.fixture
def asked(full_desk):
    """What the form of the tail block was opened with, and its draft."""
    plan = full_desk.shop().plan("travel-guitar")
    opened = {"model": plan.model, "revision": plan.name, "digest": plan.digest, "text": plan.text}
    return opened, Draft(plan.text, "tail-block", "travel-guitar.toml")


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


def test_the_form_has_a_field_for_every_key(full_desk, asked):
    """Also for those that are not set; and says what a change means for the builds there are."""
    text = as_json(plan_edit.content(full_desk, TAIL))

    assert text.count(f'"{KIND}"') == len(list(asked[1].table()))
    assert "jaw give" in text
    assert "6 builds are judged by it, and will be judged anew" in text
    assert "each keeps the revision it was stored under" in text


def test_a_saved_plan_judges_anew(full_desk, asked):
    """The file holds what was typed, and the shop reads it at once."""
    answer = save(full_desk, asked[0], asked[1].typed({TARGET: "22.05"}), IN_PLACE, None)

    assert "thickness target: 22.0 to 22.05" in as_json(answer)
    assert "target = 22.05" in (full_desk.folder / "plans" / "travel-guitar.toml").read_text()
    assert "target 22.05 mm" in as_json(plans.content(full_desk, TAIL))


def test_a_revision_leaves_earlier_builds_to_the_old_plan(full_desk, asked):
    """The builds of March stay; from April on the new one holds."""
    save(full_desk, asked[0], asked[1].typed({TARGET: "22.05"}), REVISION, "2025-04-01")
    text = as_json(plans.content(full_desk, TAIL))

    assert (full_desk.folder / "plans" / "travel-guitar-2025-04-01.toml").is_file()
    assert "0 builds judged by it" in text
    assert "from 2025-04-01" in text


@pytest.mark.parametrize(
    ("typed", "how", "since", "why"),
    [
        ({}, IN_PLACE, None, "Nothing was changed"),
        ({}, REVISION, "2026-01-05", "Nothing was changed"),
        ({TARGET: "23"}, REVISION, "", "Give the day"),
    ],
)
def test_what_is_not_saved_says_why(full_desk, asked, typed, how, since, why):
    """The file stays as it was."""
    with pytest.raises(ShopError, match=why):
        save(full_desk, asked[0], asked[1].typed(typed), how, since)


@pytest.mark.parametrize("meanwhile", ["# a note\n", "no toml\n"])
def test_a_plan_changed_meanwhile_is_not_overwritten(full_desk, asked, meanwhile):
    """A stale form is refused with a sentence, also where the file cannot be read by now."""
    path = full_desk.folder / "plans" / "travel-guitar.toml"
    path.write_text(path.read_text() + meanwhile)
    with pytest.raises(PlanChanged, match="was changed by someone else since it was opened"):
        save(full_desk, asked[0], asked[1].typed({TARGET: "23"}), IN_PLACE, None)
    assert path.read_text().endswith(meanwhile)


@pytest.mark.parametrize(
    ("was", "now", "address"),
    [
        ("22.0", "22.5", "model=travel-guitar&part=tail-block&revision=travel-guitar"),
        ("tail-block", "end-block", "model=travel-guitar&revision=travel-guitar"),
        ('"travel-guitar"', '"lap-guitar"', "model=lap-guitar&part=tail-block&revision=travel-guitar"),
        ("target", "no toml", "model=travel-guitar&part=tail-block&revision=travel-guitar"),
    ],
    ids=["target", "part gone", "model renamed", "no plan"],
)
def test_a_plan_changed_meanwhile_is_opened_again_by_a_link(full_desk, asked, was, now, address):
    """At its address of now; a plan that cannot be read says there what is wrong with it."""
    path = full_desk.folder / "plans" / "travel-guitar.toml"
    path.write_text(path.read_text().replace(was, now))
    link = open_again(full_desk, asked[0], "tail-block").children

    assert link.href == f"/plans/edit?{address}"
    assert link.target == "_blank"  # what was typed stays in sight
    if now != "no toml":
        query = dict(parse_qsl(link.href.partition("?")[2]))
        assert hashlib.sha256(path.read_bytes()).hexdigest() in as_json(plan_edit.content(full_desk, query))


def test_a_model_with_builds_is_not_renamed(full_desk, asked):
    """Its builds would lose their plan."""
    draft = asked[1].shown("").typed({"model": "lute"})
    with pytest.raises(ShopError, match="TG-1"):
        save(full_desk, asked[0], draft, IN_PLACE, None)


def test_a_problem_is_placed_beside_its_field(full_desk, asked):
    """Also one of a place or of a table of names; one of no field is told above."""
    draft = asked[1].typed({TARGET: "twenty"})
    with pytest.raises(PlanError) as told:
        save(full_desk, asked[0], draft, IN_PLACE, None)
    beside, others = placed(told.value.problems, draft.places())
    assert "not a number" in beside[TARGET]
    assert others == []

    ids = ["a.tolerance", "a.stations.top#0", "a.stations"]
    found = [PlanProblem("f", 1, key, key) for key in ("a.tolerance", "a.stations", "a", "b.mates", "")]
    assert placed(found, ids) == (
        {"a.tolerance": "a.tolerance; a", "a.stations": "a.stations"},
        ["b.mates: b.mates", ""],
    )
    both = [PlanProblem("f", 1, "a.tolerance", why) for why in ("no; type 1", "no; type 1", "high")]
    assert placed(both, ids) == ({"a.tolerance": "no; type 1; high"}, [])


def test_what_is_missing_is_told_once_a_save_was_refused(asked):
    """Nobody who has just added something is told that it is not there yet; what is wrong is told at once."""
    draft = asked[1].added((*PART, "characteristics"), "flat", "flatness").typed({TARGET: "x"})
    assert set(draft.problems()) == {TARGET}
    strict = Draft(draft.text, draft.section, draft.file, strict=True)
    flat = "parts.tail-block.characteristics.flat"
    assert set(strict.problems()) == {TARGET, f"{flat}.limit", f"{flat}.stations"}


def test_what_is_added_and_removed_shows_in_the_form(asked):
    """A mate with its keys, a part of its own, and sizes to choose from."""
    draft = asked[1].added((*PART, "mates"), "slot/lid", "")
    text = as_json(fields_of(draft.table(), draft.survey().plan, {}))
    assert "gap upper" in text
    assert "brace.width" in text
    assert path_of(key_of((*PART, "mates", "slot/lid"))) == (*PART, "mates", "slot/lid")

    new = draft.added(("parts",), "Saddle 鞍", "")
    assert new.section == "Saddle 鞍"
    assert draft.removed((*PART, "mates", "slot/lid")).text.split() == asked[1].text.split()
    assert "Tail block" not in as_json(
        fields_of(new.removed(PART).shown("").table(), new.removed(PART).survey().plan, {})
    )


def test_a_shop_without_plans_offers_to_begin_one(full_desk):
    """From a starter plan, written once and open to be changed."""
    for path in (full_desk.folder / "plans").glob("*.toml"):
        path.unlink()
    assert "/plans/new" in as_json(plans.content(full_desk, {}))
    assert "Lap dulcimer" in as_json(plan_new.content(full_desk, {}))
    answer = as_json(plan_new._write(full_desk, "Ukulele ウクレレ", "tenor-ukulele"))
    assert "ukulele-ウクレレ.toml is written" in answer
    assert "/plans/edit" in answer
    assert "tenor" not in as_json(plan_edit.content(full_desk, {}))


def test_a_part_without_characteristics_and_one_of_sixty_stations_are_drawn(full_desk):
    """Neither an empty face nor a crowded one, nor a title of a page, stops the form or the page."""
    path = full_desk.folder / "plans" / "travel-guitar.toml"
    places = ", ".join(f"s{n} = [{n % 8 * 10}, {n // 8 * 10}]" for n in range(60))
    text = path.read_text().replace("{ middle = [0, 0] }", f"{{ {places} }}")
    text = text.replace('"Brace"', f'"{"brace " * 300}"')
    path.write_text(text + "[parts.bare]\n[parts.bare.characteristics]\n")
    assert "Nothing is read of this part yet" in as_json(plans.content(full_desk, TAIL | {"part": "bare"}))
    assert "Stations: 60" in as_json(plan_edit.content(full_desk, TAIL | {"part": "brace"}))
    assert "<svg" in as_json(plans.content(full_desk, TAIL | {"part": "brace"}))
