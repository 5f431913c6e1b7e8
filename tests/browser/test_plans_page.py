"""The Plans pages in a real browser: a part drawn, and changed with its problems beside the fields."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe-playwright-python")
TAIL = "model=travel-guitar&part=tail-block"


def violations(page) -> list[str]:
    found = axe.Axe().run(page).response["violations"]
    return [f"{rule['id']}: {rule['help']}: {rule['nodes'][0]['html']}" for rule in found]


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
    """Nothing is written before it is right; comments of the file stay."""
    path = own.folder / "plans" / "travel-guitar.toml"
    path.write_text(path.read_text().replace("target = 22.0", "target = 22.0  # as drawn"))
    before = path.read_text()
    visit(f"{own.address}plans?{TAIL}")
    page.get_by_role("link", name="Change this part").click()
    target = page.get_by_role("group", name="thickness", exact=True).get_by_role("textbox", name="target")
    target.fill("twenty")
    page.get_by_role("button", name="Save the plan").click()
    expect(target).to_have_attribute("aria-invalid", "true")
    expect(target).to_have_accessible_description(re.compile("not a number"))
    assert path.read_text() == before

    target.fill("22.05")
    page.get_by_role("button", name="Save the plan").dblclick()
    expect(page.get_by_text("travel-guitar.toml is saved.")).to_be_visible()
    assert path.read_text() == before.replace("22.0 ", "22.05 ")
    page.get_by_role("link", name="See the plan").click()
    expect(page.get_by_text("target 22.05 mm", exact=False)).to_be_visible()
    assert heard == []


def test_a_stale_form_is_refused(page, visit, own):
    """Another program saved the file meanwhile; its text stays."""
    visit(f"{own.address}plans/edit?{TAIL}")
    path = own.folder / "plans" / "travel-guitar.toml"
    path.write_text(path.read_text() + "# a note\n")
    page.get_by_role("textbox", name="title").fill("Block at the tail")
    page.get_by_role("button", name="Save the plan").click()

    expect(page.get_by_role("alert").first).to_contain_text("was changed since this page was opened")
    assert path.read_text().endswith("# a note\n")


def test_a_revision_from_a_day_on_is_a_second_file(page, visit, own):
    """The day is typed; the plan of earlier builds stays."""
    visit(f"{own.address}plans/edit?{TAIL}")
    page.get_by_role("group", name="taper").get_by_role("textbox", name="limit").fill("0.2")
    page.get_by_label("A new revision beside it").check()
    day = page.get_by_role("textbox", name="For builds begun from")
    day.fill("2026-01-05")
    day.press("Tab")
    page.get_by_role("button", name="Save the plan").click()

    expect(page.get_by_text("travel-guitar-2026-01-05.toml is written")).to_be_visible()
    assert "since = 2026-01-05" in (own.folder / "plans" / "travel-guitar-2026-01-05.toml").read_text()
    page.get_by_role("link", name="See the plan").click()
    expect(page.get_by_role("textbox", name="Revision")).to_have_value(re.compile("from 2026-01-05"))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_break_no_rule_and_hang_over_no_edge(page, visit, full, scheme, picture):
    """axe-core, on a telephone and on a screen."""
    page.emulate_media(color_scheme=scheme)
    for name, address in (("plans", f"plans?{TAIL}"), ("plan-edit", f"plans/edit?{TAIL}")):
        for width in (390, 1280):
            page.set_viewport_size({"width": width, "height": 900})
            visit(full.address + address)
            picture(f"{name}-{width}-{scheme}", full_page=True)
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert violations(page) == []
