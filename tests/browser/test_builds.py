"""The Builds page in a real browser."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from playwright.sync_api import expect

from qa.record import BenchReading, utc
from qa.shop import load_shop
from qa.store.store import open_store, stored_row


@pytest.fixture(scope="module")
def many(shops, serve_shop, tmp_path_factory):
    """Served: a hundred builds, MB-001 to MB-100, of one reading each."""
    folder = shops.empty_shop(tmp_path_factory.mktemp("many") / "shop")
    shop = load_shop(folder)
    plan = shop.plan("travel-guitar")
    with open_store(shop.store_url) as store, store.writing() as connection:
        rows = []
        for number in range(1, 101):
            name, at = f"MB-{number:03d}", utc(shops.BEGUN + dt.timedelta(days=number))
            store.note_build(connection, name, plan)
            row = BenchReading(at, name, "brace", "width", "middle", 8_000_000 + 1_000_000 * (number == 7))
            rows.append(stored_row(row, plan.digest))
        store.append_rows(connection, rows)
    served = serve_shop(folder)
    yield served
    served.stop()


def test_every_build_has_its_row(page, full, heard):
    """Newest first, with the verdict of each part in words."""
    page.goto(full.address)

    expect(page.get_by_role("heading", name="Builds", level=1)).to_be_visible()
    table = page.get_by_role("table", name="travel guitar")
    expect(table.get_by_role("rowheader")).to_have_text([f"TG-{n}" for n in (6, 5, 4, 3, 2, 1)])
    expect(table.get_by_role("row", name="TG-6")).to_contain_text("Brace: does not conform")
    assert heard == []


def test_a_reading_stored_by_another_program_appears_by_itself(page, own, shops, heard):
    """No reload: the row of the new build is there."""
    page.goto(own.address)
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()

    shops.read(own.folder, "TG-7", "travel-guitar", "brace", "width", "middle", 8.0, 30)

    expect(page.get_by_role("rowheader", name="TG-7").first).to_be_visible(timeout=3000)
    assert heard == []


def test_a_plan_put_right_is_seen_by_itself(page, own, shops):
    """A page that lists problems of a plan fills as soon as the file is saved."""
    plan = own.folder / "plans" / "lap-harp.toml"
    good = plan.read_text()
    plan.write_text(good.replace("limit", "limmit"))
    page.goto(own.address)
    expect(page.get_by_text("lap-harp.toml, line")).to_have_count(2)

    plan.write_text(good)

    expect(page.get_by_role("table", name="travel guitar")).to_be_visible(timeout=3000)


def test_a_mark_leads_to_its_part_without_a_reload(page, full):
    """The build's page opens at the part, and the browser has loaded nothing anew."""
    page.goto(full.address)
    page.evaluate("window.stillHere = true")
    page.get_by_title("TG-6 Brace: does not conform").click()

    expect(page).to_have_url(re.compile(r"/build/TG-6#brace$"))
    expect(page.get_by_role("heading", name="Brace")).to_be_focused()
    expect(page.get_by_text("+0.21 mm")).to_be_visible()
    assert page.evaluate("window.stillHere") is True


def test_the_model_filter_is_part_of_the_address(page, full, heard):
    """Choosing a model keeps its builds; the back button brings the others back."""
    page.goto(full.address)
    page.get_by_role("textbox", name="Model").click()
    page.get_by_role("option", name="lap-harp").click()

    expect(page).to_have_url(re.compile(r"\?model=lap-harp$"))
    expect(page.get_by_role("table", name="travel guitar")).to_have_count(0)

    page.go_back()
    expect(page.get_by_role("table", name="travel guitar")).to_be_visible()
    assert heard == []


def test_a_step_back_at_once_is_not_undone(page, full):
    """A choice that is drawn anew asks for nothing, however soon after it a person goes back."""
    page.goto(full.address)
    for wait_ms in (20, 50, 80):
        page.get_by_role("textbox", name="Model").click()
        page.get_by_role("option", name="lap-harp").click()
        page.wait_for_url("**/?model=lap-harp", wait_until="commit")
        page.wait_for_timeout(wait_ms)
        page.go_back()
        page.wait_for_timeout(150)

        assert page.url == full.address
        expect(page.get_by_role("textbox", name="Model")).to_have_value("every model")


def test_builds_are_turned_over_by_the_address(page, many, heard):
    """Forty at a time, newest first; older ones by a link, back by the button; the address opens there."""
    page.goto(many.address)
    names = page.get_by_role("table", name="travel guitar").get_by_role("rowheader")
    expect(names).to_have_count(40)
    expect(names.first).to_have_text("MB-100")
    page.get_by_role("link", name="Older builds").first.click()
    expect(names.first).to_have_text("MB-060")
    expect(page.get_by_text("Here are 41 to 80 from the newest")).to_be_visible()
    expect(page).to_have_url(re.compile(r"\?from=MB-060$"))
    page.go_back()
    expect(names.first).to_have_text("MB-100")

    page.goto(f"{many.address}?from=MB-020")
    expect(names).to_have_text([f"MB-{n:03d}" for n in range(20, 0, -1)])
    expect(page.get_by_role("link", name="Older builds")).to_have_count(0)
    page.get_by_role("link", name="Newer builds").first.click()
    expect(names.first).to_have_text("MB-060")
    assert heard == []


def test_old_builds_are_found_by_verdict_and_by_a_piece_of_their_name(page, many, heard):
    """The one that does not conform is the seventh; a name typed goes into the address."""
    page.goto(f"{many.address}?verdict=does+not+conform&from=MB-060")
    names = page.get_by_role("table", name="travel guitar").get_by_role("rowheader")
    expect(names).to_have_text(["MB-007"])

    page.goto(f"{many.address}?from=MB-060")
    page.get_by_role("textbox", name="Name of a build").fill("b-00")
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"\?text=b-00$"))
    expect(names).to_have_text([f"MB-{n:03d}" for n in range(9, 0, -1)])
    expect(page.get_by_text("9 of 100 builds asked for")).to_be_visible()
    assert heard == []


def test_an_empty_shop_says_what_to_do_next(page, empty, heard):
    """Both ways to a first reading."""
    page.goto(empty.address)

    expect(page.get_by_text("dryfit load FILE")).to_be_visible()
    page.get_by_role("link", name="at the bench").click()
    expect(page.get_by_role("textbox", name="Name of the build")).to_be_visible()
    assert heard == []
