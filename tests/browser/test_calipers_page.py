"""The Calipers pages in a real browser: a check and a study, kept once."""

from __future__ import annotations

from playwright.sync_api import expect

from qa.shop import load_shop
from qa.store.store import open_store


def test_a_guided_check_is_kept_once_and_its_doubts_are_told(page, visit, own, heard):
    """Jaws closed, a block, one more; a double click keeps one check; the list shows it by itself."""
    visit(f"{own.address}calipers")
    expect(page.get_by_text("never checked").first).to_be_visible()
    page.get_by_role("link", name="Check it").click()
    page.get_by_role("button", name="Keep this check").click()
    expect(page.get_by_role("alert")).to_contain_text("Nothing was typed yet")

    page.get_by_role("textbox", name="Closed jaws read").fill("0.06")
    page.get_by_role("button", name="Another size").click()
    third = page.get_by_role("group", name="Known size 3")
    third.get_by_role("textbox", name="Known size 3").fill("25")
    third.get_by_role("textbox", name="It reads there").fill("25,06")
    page.get_by_role("button", name="Keep this check").dblclick()
    expect(page.get_by_text("CAL-1 fails: do not judge by it until it is set right.")).to_be_visible()
    expect(page.get_by_role("row", name="TG-6 brace width middle").first).to_be_visible()

    with open_store(load_shop(own.folder).store_url) as store:
        assert [item.body["reading"] for item in store.events("check")] == ["0.06", "25.06"]
    page.get_by_role("link", name="All instruments").last.click()
    expect(
        page.get_by_text("Not to be judged by before a check: CAL-1 (failed).", exact=False)
    ).to_be_visible()
    assert heard == []


def test_a_study_is_looked_at_and_then_kept_once(page, visit, own, heard):
    """What cannot be read is told with its place; the same readings for another end are another study."""
    visit(f"{own.address}calipers/study")
    page.get_by_role("textbox", name="Readings, mm").fill("2.50 two")
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_role("alert")).to_contain_text("reading 2, 'two'")

    page.get_by_role("textbox", name="Readings, mm").fill("2.50 2.52 2.51")
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_text("CAL-1 repeats to 0.02 mm")).to_be_visible()
    page.get_by_role("button", name="Keep it for CAL-1").dblclick()
    expect(page.get_by_text("Kept for CAL-1: later verdicts count with it, on every wood")).to_be_visible()
    with open_store(load_shop(own.folder).store_url) as store:
        assert len(store.events("study")) == 1
    page.get_by_label("how far off it reads a known size").check()
    page.get_by_role("textbox", name="Known size").fill("2,50")
    page.get_by_role("button", name="Keep it for CAL-1").click()
    expect(page.get_by_role("alert")).to_contain_text("gives no repeatability to keep")
    assert heard == []


def test_the_pages_break_no_rule_and_hang_over_no_edge(page, visit, full, schemes, broken_rules, picture):
    """axe-core, on a telephone and on a screen, by day and in the dark."""
    for address in ("calipers", "calipers/check", "calipers/study"):
        for width in (390, 1280):
            page.set_viewport_size({"width": width, "height": 900})
            visit(full.address + address)
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            for scheme in schemes():
                picture(f"{address.replace('/', '-')}-{width}-{scheme}", full_page=True)
                assert broken_rules() == []
