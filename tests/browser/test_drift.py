"""The Drift page in a real browser."""

from __future__ import annotations

import re

from playwright.sync_api import expect

TAPER = "drift?part=tail-block&characteristic=taper"


def test_a_deep_link_opens_its_series(page, full, heard):
    """Straight to a part, characteristic and station, with the chart drawn."""
    page.goto(f"{full.address}drift?part=brace&characteristic=width&station=middle")

    expect(page.get_by_role("heading", name="Brace, width, middle")).to_be_visible()
    expect(page.get_by_role("textbox", name="Part")).to_have_value("Brace")
    expect(page.locator(".js-plotly-plot .point")).to_have_count(6)
    expect(page.locator("#drift-summary")).to_contain_text("Mean +0.065 mm from the target")
    expect(page).to_have_title(re.compile("^Drift"))
    assert heard == []


def test_a_characteristic_of_the_whole_part_has_no_station_to_choose(page, full):
    """The station is said to be the whole part."""
    page.goto(full.address + TAPER)

    expect(page.get_by_role("heading", name="Tail block, taper")).to_be_visible()
    expect(page.locator("#drift-station")).to_be_disabled()
    expect(page.get_by_placeholder("whole part")).to_be_visible()


def test_choosing_moves_the_address_and_the_back_button_returns(page, full, heard):
    """Part, then characteristic, then back twice."""
    page.goto(f"{full.address}drift?part=brace")
    page.get_by_role("textbox", name="Part").click()
    page.get_by_role("option", name="Tail block").click()
    expect(page.get_by_role("heading", name="Tail block, thickness, top")).to_be_visible()

    page.get_by_role("textbox", name="Characteristic").click()
    page.get_by_role("option", name="taper").click()
    expect(page.get_by_role("heading", name="Tail block, taper")).to_be_visible()
    expect(page).to_have_url(re.compile("part=tail-block&characteristic=taper$"))

    page.go_back()
    expect(page.get_by_role("heading", name="Tail block, thickness, top")).to_be_visible()
    page.go_back()
    expect(page.get_by_role("heading", name="Brace, width, middle")).to_be_visible()
    expect(page.get_by_role("textbox", name="Part")).to_have_value("Brace")
    assert heard == []


def test_choosing_by_keyboard_keeps_the_focus(page, full):
    """The page drawn anew does not throw a keyboard user back to its top."""
    page.goto(f"{full.address}drift?part=tail-block&characteristic=thickness&station=top")
    station = page.get_by_role("textbox", name="Station")
    station.focus()
    page.keyboard.press("Enter")
    bottom = page.get_by_role("option", name="bottom")
    expect(bottom).to_be_visible()
    for _ in range(4):  # the list may open with no option lit, or with the chosen one
        page.keyboard.press("ArrowDown")
        if bottom.get_attribute("data-combobox-selected"):
            break
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", name="Tail block, thickness, bottom")).to_be_visible()
    expect(station).to_be_focused()


def test_a_line_for_each_bench(page, full):
    """The switch is part of the address too."""
    page.goto(f"{full.address}drift?part=brace")
    page.get_by_role("switch", name="A line for each bench").click()

    expect(page).to_have_url(re.compile("lines=bench"))
    expect(page.locator(".legendtext")).to_have_text(["North", "South"])


def test_the_series_grows_while_it_is_looked_at(page, own, shops, heard):
    """A new build's point is drawn by itself, and the focus stays where it was."""
    page.goto(f"{own.address}drift?part=brace")
    expect(page.locator(".js-plotly-plot .point")).to_have_count(6)
    page.get_by_role("textbox", name="Part").focus()

    shops.read(own.folder, "TG-7", "travel-guitar", "brace", "width", "middle", 8.0, 30)

    expect(page.locator(".js-plotly-plot .point")).to_have_count(7, timeout=3000)
    expect(page.get_by_role("textbox", name="Part")).to_be_focused()
    assert heard == []


def test_an_unknown_name_says_what_there_is(page, full):
    """An old bookmark is answered with the near names."""
    page.goto(f"{full.address}drift?part=tale-block")

    expect(page.get_by_role("alert").filter(has_text="tail-block")).to_be_visible()
