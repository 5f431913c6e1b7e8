"""The Drift page in a real browser: one series, its choices, its addresses, a fix stated."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from qa.drift.fixes import fixes
from qa.shop import load_shop
from qa.store.store import open_store
from tests.serving import SERVE

TAPER = "drift?part=tail-block&characteristic=taper"
MIDDLE = "drift?part=brace&characteristic=width&station=middle"
# The marks of the builds themselves: rings and the moving average have none of these names.
SPOTS = "#drift-chart .js-plotly-plot .xy .scatterlayer .trace path.point"


def test_a_deep_link_opens_its_series(page, full, heard):
    """Straight to a part, characteristic and station, with the chart drawn."""
    page.goto(full.address + MIDDLE)

    expect(page.get_by_role("heading", name="Brace, width, middle")).to_be_visible()
    expect(page.get_by_role("textbox", name="Part")).to_have_value("Brace")
    expect(page.locator(SPOTS)).to_have_count(6)
    expect(page.locator("#drift-summary")).to_contain_text("Mean +0.065 mm from the target")
    expect(page).to_have_title(re.compile("^Drift"))
    assert heard == []


def test_a_part_alone_opens_its_first_series(page, full):
    """As the links of other pages ask for it."""
    page.goto(f"{full.address}drift?part=tail-block")

    expect(page.get_by_role("heading", name="Tail block, thickness, mean of stations")).to_be_visible()


def test_a_characteristic_of_the_whole_part_has_no_other_series(page, full):
    """It is said to be the whole part, and there is nothing to choose."""
    page.goto(full.address + TAPER)

    expect(page.get_by_role("heading", name="Tail block, taper")).to_be_visible()
    expect(page.locator("#drift-station")).to_be_disabled()
    expect(page.locator("#drift-station")).to_have_value("whole part")


def test_choosing_moves_the_address_and_the_back_button_returns(page, full, heard):
    """Part, then characteristic, then back twice."""
    page.goto(f"{full.address}drift?part=brace")
    page.get_by_role("textbox", name="Part").click()
    page.get_by_role("option", name="Tail block").click()
    expect(page.get_by_role("heading", name="Tail block, thickness, mean of stations")).to_be_visible()

    page.get_by_role("textbox", name="Characteristic").click()
    page.get_by_role("option", name="taper").click()
    expect(page.get_by_role("heading", name="Tail block, taper")).to_be_visible()
    expect(page).to_have_url(re.compile("part=tail-block&characteristic=taper$"))

    page.go_back()
    expect(page.get_by_role("heading", name="Tail block, thickness, mean of stations")).to_be_visible()
    page.go_back()
    expect(page.get_by_role("heading", name="Brace, width, middle")).to_be_visible()
    expect(page.get_by_role("textbox", name="Part")).to_have_value("Brace")
    assert heard == []


def test_choosing_by_keyboard_keeps_the_focus(page, full):
    """The page drawn anew does not throw a keyboard user back to its top."""
    page.goto(f"{full.address}drift?part=tail-block&characteristic=thickness&station=top")
    series = page.get_by_role("textbox", name="Series", exact=True)
    series.focus()
    page.keyboard.press("Enter")
    bottom = page.get_by_role("option", name="bottom", exact=True)
    expect(bottom).to_be_visible()
    for _ in range(5):  # the list may open with no option lit, or with the chosen one
        page.keyboard.press("ArrowDown")
        if bottom.get_attribute("data-combobox-selected"):
            break
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", name="Tail block, thickness, bottom")).to_be_visible()
    expect(series).to_be_focused()


@pytest.mark.parametrize(("by", "names"), [("bench", ["North", "South"]), ("caliper", ["CAL-1"])])
def test_points_told_apart(page, full, by, names):
    """By bench or caliper: the choice is in the address, each name in the key, a line each."""
    page.goto(full.address + MIDDLE)
    page.get_by_role("textbox", name="Points by").click()
    page.get_by_role("option", name=by).click()

    expect(page).to_have_url(re.compile(f"marks={by}"))
    expect(page.locator(".chart-key li").nth(len(names) - 1)).to_have_text(names[-1])
    assert page.locator(".chart-key li").all_inner_texts()[: len(names)] == names
    expect(page.locator(SPOTS)).to_have_count(6)


def test_hover_says_what_the_table_says(page, full):
    """Build, value, verdict, distance, limits, bench and caliper over a point; the table holds the same."""
    page.goto(full.address + MIDDLE)
    expect(page.locator(SPOTS)).to_have_count(6)
    last = page.locator(SPOTS).nth(4)  # four conform; they are drawn verdict by verdict
    box = last.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    over = page.locator("#drift-chart .hoverlayer")

    for words in (
        "TG-6",
        "8.21 mm, does not conform",
        "+0.21 mm from the target",
        "7.85 to 8.15 mm",
        "CAL-1",
    ):
        expect(over).to_contain_text(words)
    expect(page.locator("table.plain tbody tr").first).to_contain_text(
        re.compile("TG-6.*8.21 mm.*does not conform")
    )


def test_the_series_grows_while_it_is_looked_at(page, own, shops, heard):
    """A new build's point is drawn by itself, and the focus stays where it was."""
    page.goto(own.address + MIDDLE)
    expect(page.locator(SPOTS)).to_have_count(6, timeout=15_000)
    page.get_by_role("textbox", name="Part").focus()

    shops.read(own.folder, "TG-7", "travel-guitar", "brace", "width", "middle", 8.0, 30)

    expect(page.locator(SPOTS)).to_have_count(7, timeout=15_000)
    expect(page.get_by_role("textbox", name="Part")).to_be_focused()
    assert heard == []


def test_what_is_being_typed_stays_while_the_series_grows(page, own, shops):
    """A reading from the bench does not take the words out of the form."""
    page.goto(own.address + MIDDLE)
    page.get_by_text("State a fix").click()
    page.get_by_role("textbox", name="What was put right").fill("new fe")

    shops.read(own.folder, "TG-7", "travel-guitar", "brace", "width", "middle", 8.0, 30)

    expect(page.locator(SPOTS)).to_have_count(7, timeout=15_000)
    expect(page.get_by_role("textbox", name="What was put right")).to_have_value("new fe")


def test_charts_that_take_long_wait_for_a_rest(page, shops, serve_shop, tmp_path, heard):
    """Readings are counted in words and taken in when none has come for a while, or when asked for."""
    slowly = "import dashboard.pages.drift_kept as kept\nkept.RESTS, kept.MOST_S = 1000, 4\n"
    served = serve_shop(shops.full_shop(tmp_path / "shop"), slowly + SERVE)

    def read(build):
        day = int(build.partition("-")[2]) + 30
        shops.read(served.folder, build, "travel-guitar", "brace", "width", "middle", 8.0, day)

    try:
        page.goto(served.address + MIDDLE)
        expect(page.locator(SPOTS)).to_have_count(6, timeout=30_000)
        read("TG-7")  # drawn at once: only then is it known how long that takes
        expect(page.locator(SPOTS)).to_have_count(7, timeout=15_000)

        read("TG-8")
        read("TG-9")
        expect(page.locator("#drift-news")).to_contain_text("2 readings have come since")
        expect(page.locator(SPOTS)).to_have_count(7)
        page.get_by_role("button", name="Show them now").click()
        expect(page.locator(SPOTS)).to_have_count(9, timeout=15_000)
        expect(page.locator("#drift-since")).to_be_hidden()

        read("TG-10")
        expect(page.locator("#drift-news")).to_contain_text("1 reading has come since")
        expect(page.locator(SPOTS)).to_have_count(10, timeout=30_000)
    finally:
        served.stop()
    assert heard == []


def kept(folder):
    shop = load_shop(folder)
    with open_store(shop.store_url) as store:
        return [(fix.text, fix.at[:10], fix.part, fix.characteristic, fix.machine) for fix in fixes(store)]


def test_a_fix_is_stated_once_and_drawn(page, own, heard):
    """Words and day; pressed twice it is kept once; it stands on the chart with its letter and words."""
    page.goto(own.address + MIDDLE)
    page.get_by_text("State a fix").click()
    page.get_by_role("textbox", name="What was put right").fill("new fence")
    page.get_by_role("textbox", name="Day").fill("2025-03-07")
    page.get_by_role("button", name="Keep the fix").click()

    expect(page.get_by_role("status").filter(has_text="Kept: new fence, 2025-03-07")).to_be_visible()
    expect(page.locator("#drift-fixes")).to_contain_text("new fence")
    expect(page.locator("#drift-fixes")).to_contain_text("the chart begins anew with TG-4")
    expect(page.locator("#drift-chart .annotation-text").filter(has_text=re.compile("^A$"))).to_be_visible()

    page.get_by_role("textbox", name="What was put right").fill("new fence")
    page.get_by_role("button", name="Keep the fix").click()
    expect(page.get_by_role("status").filter(has_text="It was kept already: new fence")).to_be_visible()
    assert kept(own.folder) == [("new fence", "2025-03-07", "brace", "width", "")]
    assert heard == []


def test_a_fix_without_words_is_not_kept(page, own):
    """It says what is missing, beside the form, and stores nothing."""
    page.goto(own.address + MIDDLE)
    page.get_by_text("State a fix").click()
    page.get_by_role("button", name="Keep the fix").click()

    expect(page.get_by_role("alert").filter(has_text="Say in a few words what was put right")).to_be_visible()
    assert kept(own.folder) == []


def test_an_unknown_name_says_what_there_is(page, full):
    """An old bookmark is answered with the near names."""
    page.goto(f"{full.address}drift?part=tale-block")

    expect(page.get_by_role("alert").filter(has_text="tail-block")).to_be_visible()


def test_a_place_not_read_yet_says_so(page, own, shops):
    """One build is a point and no chart; none is a sentence."""
    shops.read(own.folder, "LH-2", "lap-harp", "tail-block", "thickness", "top", 22.0, 40)
    page.goto(own.address + TAPER)
    expect(page.locator("#drift-verdict")).to_be_visible()

    page.goto(f"{own.address}drift?part=brace&characteristic=width&station=end")
    expect(page.get_by_role("alert").filter(has_text="middle")).to_be_visible()


@pytest.mark.parametrize("address", ["drift", MIDDLE])
def test_a_file_broken_while_charts_are_open_is_said_and_its_mending_seen(page, own, heard, address):
    """The problem stands in place of the charts; they are back without a reload."""
    page.goto(own.address + address)
    expect(page.locator("#drift-summary")).to_be_visible()
    file = own.folder / "shop.toml"
    good = file.read_text()
    file.write_text(good + "[broken")
    expect(page.get_by_text("The shop's files have problems")).to_be_visible(timeout=10_000)
    file.write_text(good)

    expect(page.locator("#drift-summary")).to_be_visible(timeout=10_000)
    assert heard == []


def test_an_empty_shop_waits_for_its_first_reading(page, shops, serve_shop, tmp_path):
    """It says what to do, and draws by itself once there is something."""
    served = serve_shop(shops.empty_shop(tmp_path / "shop"))
    try:
        page.goto(f"{served.address}drift")
        expect(page.get_by_text("Nothing has been measured")).to_be_visible()
        shops.read(served.folder, "TG-1", "travel-guitar", "brace", "width", "middle", 8.0, 1)
        expect(page.locator("#drift-summary")).to_contain_text("1 build", timeout=5000)
        expect(page.get_by_text("Too few builds to chart: 1, and it takes 3.")).to_be_visible()
    finally:
        served.stop()
