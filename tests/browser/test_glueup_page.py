"""Glue-up in a real browser: the gates, the override, and the glue decision kept once."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from playwright.sync_api import expect

from qa.calipers.climate import keep_climate
from qa.shop import load_shop
from qa.store.store import open_store

TAIL, BRACE = "build=TG-9&part=tail-block", "build=TG-9&part=brace"
ADDRESSES = ("glueup", f"glueup?{TAIL}", f"glueup/decide?{BRACE}", f"glueup/decide?{TAIL}&way=override")


def store_of(folder):
    return open_store(load_shop(folder).store_url)


@pytest.fixture
def fresh(own, shops):
    """Served: one more build, read today: its brace conforms, its tail block is high at the top."""
    today = (dt.datetime.now(dt.UTC) - shops.BEGUN).days
    for place, value in (("top", 22.4), ("bottom", 22.0)):
        shops.read(own.folder, "TG-9", "travel-guitar", "tail-block", "thickness", place, value, today)
    shops.read(own.folder, "TG-9", "travel-guitar", "brace", "width", "middle", 8.0, today)
    return own


def test_a_closed_gate_is_overridden_in_two_steps_and_the_part_glued_once(page, visit, fresh, heard):
    """A reason is asked for; stepping back keeps it; a double click keeps one glue-up."""
    visit(f"{fresh.address}glueup?{TAIL}")
    page.get_by_role("link", name="Glue it all the same").click()
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("alert")).to_contain_text("Type the reason")

    page.get_by_label("Why it is glued all the same").fill("hidden by the binding")
    page.get_by_role("button", name="Go on").click()
    confirm = page.get_by_role("region", name="Say yes once more")
    expect(confirm).to_be_focused()
    expect(confirm).to_contain_text("over the upper limit by 0.15 mm")
    page.get_by_role("button", name="Back").click()
    expect(page.get_by_label("Why it is glued all the same")).to_have_value("hidden by the binding")
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Override the gate of Tail block").click()
    page.get_by_role("link", name="Decide to glue it").click()

    expect(page.get_by_text("Gate open by override", exact=False)).to_be_visible()
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("alert")).to_contain_text("Do the dry fit with every clamp first")
    page.get_by_label("The dry fit is done").check()
    page.get_by_role("textbox", name="Glue").fill("hide")
    page.get_by_role("textbox", name="Clamps").fill("4")
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Keep the glue-up of Tail block").dblclick()
    expect(page.get_by_text("The glue-up is recorded")).to_be_visible()

    with store_of(fresh.folder) as store:
        assert [item.kind for item in store.events(build="TG-9")] == ["override", "glue-up"]
        assert store.events("glue-up")[0].body == {"glue": "hide", "clamps": 4, "overridden": True}
    page.get_by_role("link", name="To its gate", exact=True).click()
    expect(page.get_by_role("heading", name="Kept for ever")).to_be_visible()
    expect(page.get_by_text("hidden by the binding")).to_have_count(2)
    assert heard == []


def test_the_decision_is_made_by_the_keyboard_alone(page, visit, fresh):
    """Every field in the order of the screen, the confirmation with the Enter key."""
    visit(f"{fresh.address}glueup/decide?{BRACE}")
    page.get_by_label("The dry fit is done").focus()
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.type("hide")
    page.get_by_role("button", name="Go on").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("region", name="Say yes once more")).to_be_focused()
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Keep the glue-up of Brace")).to_be_focused()
    page.keyboard.press("Enter")

    expect(page.get_by_role("status").filter(has_text="The glue-up is recorded")).to_be_focused()


def test_two_screens_on_one_part_keep_one_glue_up(page, visit, fresh, context):
    """The second is told that the part was glued up meanwhile."""
    other = context.new_page()
    for each in (page, other):
        each.goto(f"{fresh.address}glueup/decide?{BRACE}")
        each.get_by_label("The dry fit is done").check()
        each.get_by_role("textbox", name="Glue").fill("hide" if each is page else "epoxy")
        each.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Keep the glue-up").click()
    expect(page.get_by_text("The glue-up is recorded")).to_be_visible()
    other.get_by_role("button", name="Keep the glue-up").click()

    expect(other.get_by_role("alert").last).to_contain_text("glued up meanwhile")


def test_air_outside_the_window_closes_the_gate_as_it_is_typed_and_may_be_overridden(page, visit, fresh):
    """The gate is looked at again with the air of the form, and the way to an override takes that along."""
    visit(f"{fresh.address}glueup/decide?{BRACE}")
    page.get_by_label("The dry fit is done").check()
    page.get_by_role("textbox", name="Glue").fill("hide")
    page.get_by_role("textbox", name="Relative humidity").fill("62")
    page.get_by_role("button", name="Go on").click()

    expect(page.get_by_role("alert")).to_contain_text("The room is at 62 % RH, outside the 40 to 50 %")
    page.get_by_role("alert").get_by_role("link", name="Glue it all the same").click()
    page.get_by_label("Why it is glued all the same").fill("it dries in here")
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Override the gate of Brace").click()
    page.get_by_role("link", name="Decide to glue it").click()
    expect(page.get_by_text("Gate open by override", exact=False)).to_be_visible()
    expect(page.get_by_role("textbox", name="Relative humidity")).to_have_value("62")


def test_the_gates_follow_the_store_and_leave_what_is_typed(page, visit, fresh):
    """Another program logs the air while a person types it here."""
    visit(f"{fresh.address}glueup")
    page.get_by_text("Note the room's air").click()
    page.get_by_role("textbox", name="Relative humidity").fill("44,0")
    with store_of(fresh.folder) as store:
        keep_climate(store, rh=62.0)
    expect(page.locator("#glueup-room")).to_contain_text("Room 62 % RH")
    expect(page.get_by_role("textbox", name="Relative humidity")).to_have_value("44,0")

    page.get_by_role("button", name="Keep it").click()
    expect(page.locator("#glueup-room")).to_contain_text("Room 44 % RH")


def test_the_build_is_part_of_the_address(page, visit, fresh):
    """Choosing moves there, and back returns."""
    visit(f"{fresh.address}glueup")
    page.get_by_role("textbox", name="Build").click()
    page.get_by_role("option", name="TG-1").click()
    expect(page).to_have_url(re.compile(r"\?build=TG-1$"))
    expect(page.get_by_role("heading", name="Glue-up of TG-1")).to_be_visible()
    page.go_back()
    expect(page.get_by_role("heading", name="Glue-up of TG-9")).to_be_visible()


def test_the_pages_break_no_rule_and_hang_over_no_edge(page, visit, fresh, schemes, broken_rules, picture):
    """axe-core, on a telephone and on a screen, by day and in the dark."""
    for number, address in enumerate(ADDRESSES):
        for width in (390, 1280):
            page.set_viewport_size({"width": width, "height": 900})
            visit(fresh.address + address)
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            for scheme in schemes():
                picture(f"glueup-{number}-{width}-{scheme}", full_page=True)
                assert broken_rules() == []


def test_the_printed_sheet_has_lines_for_the_pencil_and_no_buttons(page, visit, fresh):
    """The gate, the part and its build, and what to write down at the glue-up."""
    visit(f"{fresh.address}glueup?{TAIL}")
    expect(page.get_by_text("At the glue-up")).to_be_hidden()
    page.emulate_media(media="print")

    expect(page.get_by_text("At the glue-up")).to_be_visible()
    expect(page.get_by_text("of build TG-9")).to_be_visible()
    expect(page.get_by_role("link", name="Glue it all the same")).to_be_hidden()
    expect(page.get_by_text("Note the room's air")).to_be_hidden()


def test_a_part_nobody_knows_says_which_there_are(page, visit, full):
    """In place of the page."""
    visit(f"{full.address}glueup/decide?build=TG-1&part=brase")

    expect(page.get_by_role("alert")).to_contain_text("brace")
