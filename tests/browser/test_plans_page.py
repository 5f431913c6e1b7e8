"""The Plans pages in a real browser: a part drawn, and changed with its problems beside the fields."""

from __future__ import annotations

import re

from playwright.sync_api import expect

TAIL = "model=travel-guitar&part=tail-block"


def opened(page, characteristic):
    """The keys of a characteristic, unfolded."""
    keys = page.get_by_role("group", name=characteristic, exact=True)
    if not keys.is_visible():
        page.locator("summary", has_text=re.compile(f"^{characteristic}")).click()
    return keys


def test_a_part_is_drawn_and_chosen_by_its_address(page, visit, full, heard):
    """The drawing is there, another part has its own address, and back returns."""
    visit(f"{full.address}plans?{TAIL}")
    expect(page.get_by_role("img", name="Tail block")).to_be_visible()
    page.get_by_role("textbox", name="Part").click()
    page.get_by_role("option", name="Brace").click()
    expect(page).to_have_url(re.compile("part=brace"))
    expect(page.get_by_role("heading", name="Brace")).to_be_visible()
    page.go_back()
    expect(page.get_by_role("heading", name="Tail block")).to_be_visible()
    assert heard == []


def test_a_problem_stands_beside_its_field_and_a_good_plan_is_saved_once(page, visit, own, heard):
    """Nothing is written before it is right; comments of the file stay. Undone by hand, it is saved again."""
    path = own.folder / "plans" / "travel-guitar.toml"
    path.write_text(path.read_text().replace("target = 22.0", "target = 22.0  # as drawn"))
    before = path.read_text()
    visit(f"{own.address}plans?{TAIL}")
    page.get_by_role("link", name="Change this part").click()
    target = opened(page, "thickness").get_by_role("textbox", name="target")
    target.fill("twenty")
    page.get_by_role("button", name="Save the plan").click()
    expect(target).to_have_attribute("aria-invalid", "true")
    expect(target).to_have_accessible_description(re.compile("not a number"))
    assert path.read_text() == before

    target.fill("22.05")
    page.get_by_label("Change this plan").check()
    page.get_by_role("button", name="Save the plan").dblclick()
    expect(page.get_by_text("travel-guitar.toml is saved.")).to_be_visible()
    assert path.read_text() == before.replace("22.0 ", "22.05 ")
    page.get_by_role("link", name="See the plan").click()
    expect(page.get_by_text("target 22.05 mm", exact=False)).to_be_visible()

    path.write_text(before)
    page.get_by_role("link", name="Change this part").click()
    opened(page, "thickness").get_by_role("textbox", name="target").fill("22.05")
    page.get_by_label("Change this plan").check()
    page.get_by_role("button", name="Save the plan").click()
    expect(page.get_by_text("travel-guitar.toml is saved.")).to_be_visible()
    assert path.read_text() == before.replace("22.0 ", "22.05 ")
    assert heard == []


def test_a_characteristic_and_a_station_are_added_by_the_keyboard_and_drawn(page, visit, own, heard):
    """What is not typed yet is asked for when it is to be saved, nothing is lost, the face follows."""
    visit(f"{own.address}plans/edit?{TAIL}")
    page.get_by_role("textbox", name="New characteristic").fill("Dicke 厚")
    page.get_by_role("textbox", name="What it is").fill("height")
    page.get_by_role("option", name=re.compile("^height")).click()
    page.get_by_role("button", name="Add the characteristic").press("Enter")
    keys = page.get_by_role("group", name="Dicke 厚", exact=True)
    keys.get_by_role("textbox", name="target").fill('1/2"')
    keys.get_by_role("textbox", name="tolerance").fill("0.2 to -0.2")
    expect(keys.get_by_role("textbox", name="tolerance")).to_have_accessible_description(
        re.compile("upside down")
    )
    page.get_by_role("button", name="Save the plan").click()
    expect(page.get_by_role("alert").first).to_contain_text("Nothing was saved")
    station = keys.get_by_role("textbox", name="New station")
    expect(station).to_have_accessible_description(re.compile("is missing"))
    expect(keys.get_by_role("textbox", name="target")).to_have_value('1/2"')

    keys.get_by_role("textbox", name="tolerance").fill("-0.2 to 0.2")
    station.fill("end")
    station.press("Enter")
    keys.get_by_role("textbox", name="end x").fill("40")
    keys.get_by_role("textbox", name="end y").fill("74")
    expect(page.get_by_role("img", name="Tail block")).to_contain_text("40 mm")
    page.get_by_role("button", name="Save the plan").click()
    expect(page.locator("#plan-told").get_by_text("tail block Dicke 厚: added")).to_be_visible()
    page.get_by_role("link", name="See the plan").click()
    expect(page.get_by_text("target 12.70 mm", exact=False)).to_be_visible()
    heard_of = [line for line in heard if "status of 4" not in line]
    assert heard_of == []


TYPE_AND_PRESS = """async (box, [text, name]) => {
    const button = document.getElementById(name);
    box.select();
    document.execCommand("insertText", false, text);
    await null;
    button.focus();
    button.click();
}"""


def test_a_button_pressed_at_once_has_what_was_typed(page, visit, full):
    """In one go, before a timer of the page could run."""
    visit(f"{full.address}plans/new")
    model = page.get_by_role("textbox", name="Model")
    model.evaluate(TYPE_AND_PRESS, ["travel-guitar", "plan-new-write"])
    expect(page.get_by_role("alert")).to_contain_text("There is a plan of 'travel-guitar' already")

    visit(f"{full.address}plans/edit?{TAIL}")
    target = opened(page, "thickness").get_by_role("textbox", name="target")
    target.evaluate(TYPE_AND_PRESS, ["twenty", "plan-save"])
    expect(page.get_by_role("alert").first).to_contain_text("the plan would not hold")


def test_a_stale_form_is_refused(page, visit, own):
    """Another program saved the file meanwhile; its text stays, and a link opens it beside what was typed."""
    visit(f"{own.address}plans/edit?{TAIL}")
    path = own.folder / "plans" / "travel-guitar.toml"
    path.write_text(path.read_text() + "# a note\n")
    page.get_by_role("textbox", name="title").fill("Block at the tail")
    page.get_by_role("button", name="Save the plan").click()

    expect(page.get_by_role("alert").first).to_contain_text("was changed by someone else since it was opened")
    assert path.read_text().endswith("# a note\n")

    with page.expect_popup() as opening:
        page.get_by_role("link", name="Open it again").click()
    expect(page.get_by_role("textbox", name="title")).to_have_value("Block at the tail")
    again = opening.value
    again.get_by_role("textbox", name="title").fill("Block at the tail")
    again.get_by_label("Change this plan").check()
    again.get_by_role("button", name="Save the plan").click()
    expect(again.get_by_text("travel-guitar.toml is saved.")).to_be_visible()
    assert path.read_text().endswith("# a note\n")
    assert 'title = "Block at the tail"' in path.read_text()


def test_leaving_what_is_not_saved_is_asked_first(page, visit, full):
    """By a link, by going back and by another address; not where nothing is changed."""
    asked: list[str] = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    visit(f"{full.address}plans?{TAIL}")
    for link in ("Change this part", "Leave it as it is", "Change this part"):
        page.get_by_role("link", name=link).click()
    title = page.get_by_role("textbox", name="title")
    title.fill("Block at the tail")
    expect(page.locator("#plan-changed li")).to_be_visible()
    assert asked == []
    for leave in ("document.querySelector('#pages a').click()", "history.back()", "location.reload()"):
        with page.expect_event("dialog"):
            page.evaluate(f"void setTimeout(() => {{ {leave} }})")
    expect(title).to_have_value("Block at the tail")
    expect(page).to_have_url(re.compile("plans/edit"))
    assert asked == ["confirm", "confirm", "beforeunload"]


def test_a_revision_from_a_day_on_is_a_second_file(page, visit, own):
    """The day is typed; the plan of earlier builds stays."""
    visit(f"{own.address}plans/edit?{TAIL}")
    opened(page, "taper").get_by_role("textbox", name="limit").fill("0.2")
    expect(page.get_by_label("A new revision beside it")).to_be_checked()
    day = page.get_by_role("textbox", name="For builds begun from")
    day.fill("2026-01-05")
    day.press("Tab")
    page.get_by_role("button", name="Save the plan").click()

    expect(page.get_by_text("travel-guitar-2026-01-05.toml is written")).to_be_visible()
    assert "since = 2026-01-05" in (own.folder / "plans" / "travel-guitar-2026-01-05.toml").read_text()
    page.get_by_role("link", name="See the plan").click()
    expect(page.get_by_role("textbox", name="Revision")).to_have_value(re.compile("from 2026-01-05"))


def test_the_pages_break_no_rule_and_hang_over_no_edge(page, visit, full, schemes, broken_rules, picture):
    """axe-core, on a telephone and on a screen, by day and in the dark."""
    for name, address in (
        ("plans", f"plans?{TAIL}"),
        ("plan-edit", f"plans/edit?{TAIL}"),
        ("plan-new", "plans/new"),
    ):
        for width in (390, 1280):
            page.set_viewport_size({"width": width, "height": 900})
            visit(full.address + address)
            if name == "plan-edit":
                opened(page, "thickness")
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            for scheme in schemes():
                picture(f"{name}-{width}-{scheme}", full_page=True)
                assert broken_rules() == []
