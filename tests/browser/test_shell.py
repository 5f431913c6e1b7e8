"""What stands around every page: colours, width, keyboard, contact."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

ADDRESSES = {"builds": "", "build": "build/TG-6", "drift": "drift?part=brace"}


BY_WHAT = "address => performance.getEntriesByName(address)[0].initiatorType"


def ground(page) -> str:
    return page.evaluate("getComputedStyle(document.body).backgroundColor")


@pytest.mark.parametrize("name", ADDRESSES)
@pytest.mark.parametrize("width", [360, 390, 1280])
def test_nothing_hangs_over_the_edge(page, visit, full, name, width, picture):
    """No page scrolls sideways, from a small telephone up."""
    page.set_viewport_size({"width": width, "height": 800})
    visit(full.address + ADDRESSES[name])

    picture(f"{name}-{width}", full_page=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("address", ["", "drift?part=brace"])
def test_a_page_comes_with_its_layout_which_is_asked_for_once(page, full, address):
    """The head of the page has the browser ask for it; the page's framework finds it there."""
    asked = []
    page.on("request", lambda request: asked.append(request.url.removeprefix(full.address)))
    with page.expect_response(f"{full.address}_dash-layout") as layout:
        page.goto(full.address + address)
    expect(page.locator("h1")).to_be_visible()

    assert page.locator("h1").inner_text() in layout.value.text()
    for name in ("_dash-layout", "_dash-dependencies"):
        assert asked.count(name) == 1
        assert page.evaluate(BY_WHAT, full.address + name) == "link"
    assert {name for name in asked if name.startswith("assets/")} <= {"assets/theme.js", "assets/favicon.svg"}
    assert sum(name.startswith("pages-") for name in asked) == 2


@pytest.mark.parametrize("preferred", ["light", "dark"])
def test_the_colours_follow_the_computer_and_then_the_choice(page, full, preferred):
    """Dark or daylight as preferred; the button changes it, and a reload remembers."""
    page.emulate_media(color_scheme=preferred)
    page.goto(full.address)
    button = page.get_by_role("button", name="Switch between daylight and dark")
    expect(button).to_be_visible()
    first = ground(page)
    button.click()
    second = ground(page)
    page.reload()
    expect(page.locator("h1")).to_be_visible()

    assert {first, second} == {"rgb(250, 246, 238)", "rgb(29, 24, 20)"}
    assert (first == "rgb(29, 24, 20)") == (preferred == "dark")
    assert ground(page) == second


def test_a_chart_is_repainted_on_a_dark_screen_and_printed_on_paper(page, full):
    """The same figure: sky blue on dark, blue in daylight and in print (Okabe and Ito, 2008)."""
    page.emulate_media(color_scheme="dark")
    page.goto(full.address + ADDRESSES["drift"])
    point = page.locator(".js-plotly-plot .point").first
    expect(point).to_be_visible()

    def fill() -> str:
        return point.evaluate("node => getComputedStyle(node).fill")

    assert fill() == "rgb(86, 180, 233)"
    page.emulate_media(media="print")
    assert fill() == "rgb(0, 114, 178)"
    assert ground(page) == "rgb(255, 255, 255)"


def test_where_we_are_is_marked_in_the_navigation(page, full):
    """aria-current moves with the page, and links load nothing anew."""
    page.goto(full.address)
    pages = page.get_by_role("navigation", name="Pages")
    expect(pages.get_by_role("link", name="Builds")).to_have_attribute("aria-current", "page")
    pages.get_by_role("link", name="Drift").click()

    expect(pages.get_by_role("link", name="Drift")).to_have_attribute("aria-current", "page")
    expect(pages.get_by_role("link", name="Builds")).not_to_have_attribute("aria-current", "page")
    expect(page.locator("#announcer")).to_contain_text("Drift")


def test_the_keyboard_skips_to_the_content(page, full):
    """The first stop of the Tab key is the way past the header."""
    page.goto(full.address)
    expect(page.locator("h1")).to_be_visible()
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to content")).to_be_focused()
    page.keyboard.press("Enter")

    expect(page.locator("#content")).to_be_focused()


def test_a_lost_server_is_said_and_a_found_one_is_live_again(page, own, shops):
    """The banner comes, goes, and what was stored meanwhile is shown."""
    page.goto(own.address)
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()
    banner = page.get_by_text("No contact with the server")
    expect(banner).to_be_hidden()

    own.stop()
    expect(banner).to_be_visible(timeout=12_000)
    shops.read(own.folder, "TG-8", "travel-guitar", "brace", "width", "middle", 8.0, 31)
    own.start()

    expect(banner).to_be_hidden(timeout=30_000)
    expect(page.get_by_role("rowheader", name="TG-8").first).to_be_visible(timeout=5000)


AT_PARTS = "build=TG-6&part=brace"
WHERE_TYPED = (
    *("bench?" + AT_PARTS, "glueup?" + AT_PARTS, "glueup/decide?" + AT_PARTS, "drift", "drift?part=brace"),
    *("calipers/check", "calipers/study", "plans/edit", "plans/new"),
)


def test_a_page_opened_while_a_file_is_broken_comes_once_it_is_mended(context, own):
    """As it says below the problem, also where it does not follow the store."""
    file = own.folder / "shop.toml"
    good = file.read_text()
    file.write_text(good + "[broken")
    tabs = [context.new_page() for _ in WHERE_TYPED]
    for tab, address in zip(tabs, WHERE_TYPED, strict=True):
        tab.goto(own.address + address)
        expect(tab.get_by_text("and this page looks again by itself")).to_be_visible()
    file.write_text(good)

    for tab in tabs:
        expect(tab.get_by_text("The shop's files have problems")).to_have_count(0, timeout=10_000)
        expect(tab.locator("h1")).to_be_visible()


def test_of_what_an_address_says_twice_the_last_counts(page, full, heard):
    """However the page is come to."""
    page.goto(f"{full.address}drift?part=tail-block&part=brace")
    expect(page.locator("h1")).to_contain_text("Brace")
    page.evaluate("history.pushState({}, '', '/?model=lap-harp&model=travel-guitar')")
    page.evaluate("window.dispatchEvent(new CustomEvent('_dashprivate_pushstate'))")

    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()
    assert heard == []


def test_an_address_that_leads_nowhere_says_so(page, full):
    """With a way back to the builds."""
    page.goto(f"{full.address}nowhere")

    expect(page.get_by_role("heading", name="No such page")).to_be_visible()
    page.get_by_role("link", name="See the builds").click()
    expect(page.get_by_role("heading", name="Builds", level=1)).to_be_visible()


def test_lengths_are_shown_in_the_unit_chosen_and_a_reload_remembers(page, visit, full):
    """The button changes what is shown, not what is kept; another page shows the same unit."""
    visit(full.address + "build/TG-6")
    expect(page.get_by_role("cell", name="8.21 mm").first).to_be_visible()
    page.get_by_role("button", name="Inches").click()
    expect(page.get_by_role("cell", name="0.3232 in").first).to_be_visible()

    page.reload()
    expect(page.get_by_role("cell", name="0.3232 in").first).to_be_visible()
    visit(full.address + "drift?part=brace")
    expect(page.locator("#drift-summary")).to_contain_text(" in from the target")
    page.get_by_role("button", name="Millimetres").click()
    expect(page.locator("#drift-summary")).to_contain_text(" mm from the target")


def test_the_other_unit_asks_before_it_loses_what_is_typed(page, full):
    """The page is drawn anew in it; said no to, the words and the unit stay."""
    page.goto(f"{full.address}calipers/study")
    readings = page.get_by_label("Readings, mm")
    readings.fill("21,5 21,6")
    asked = []
    page.once("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
    page.get_by_role("button", name="Inches").click()
    expect(readings).to_have_value("21,5 21,6")
    expect(page.get_by_role("button", name="Inches")).to_be_visible()

    page.once("dialog", lambda dialog: (asked.append(dialog.message), dialog.accept()))
    page.get_by_role("button", name="Inches").click()
    expect(page.get_by_role("button", name="Millimetres")).to_be_visible()
    expect(readings).to_have_value("")
    assert len(asked) == 2
    assert "what is typed here is lost" in asked[0]


def test_a_long_name_does_not_widen_a_small_telephone(page, own, shops):
    """One word of forty letters, as a build may be called, is broken where the line ends."""
    name = "Weihnachtsgeschenk" + "e" * 22
    shops.read(own.folder, name, "travel-guitar", "brace", "width", "middle", 8.0, 31)
    page.set_viewport_size({"width": 360, "height": 800})
    at = f"build={name}&part=brace"
    for address in (f"build/{name}", "bench", f"bench?build={name}", f"bench?{at}", f"glueup?build={name}",
                    f"glueup?{at}", f"glueup/decide?{at}&way=override"):  # fmt: skip
        page.goto(own.address + address)
        expect(page.locator("main").get_by_text(name).first).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, address


@pytest.mark.parametrize("address", ["", "glueup?build=TG-1"])
def test_a_link_keeps_the_focus_while_readings_come(page, own, shops, address):
    """Also where the page is sent as text and drawn anew, so that the keyboard goes on from there."""
    page.goto(own.address + address)
    link = page.locator("main [data-still] a").nth(1)
    link.focus()
    before = page.locator("main [data-still]").first.element_handle()
    shops.read(own.folder, "TG-1", "travel-guitar", "brace", "width", "middle", 8.02, 31)
    page.wait_for_function("place => !place.isConnected", arg=before)

    expect(link).to_be_focused()
