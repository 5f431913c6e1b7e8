"""A build's page in a real browser: its whole record, and the ways to bench and gate."""

from __future__ import annotations

import dataclasses
import re

import pytest
from playwright.sync_api import expect

from qa.record import BenchEvent
from qa.shop import load_shop
from qa.store.store import open_store


@pytest.fixture
def kept(own):
    """Served: a reading of TG-1 that was corrected, one that is held, a skip and a decision on the build."""
    shop = load_shop(own.folder)
    plan = shop.plan("travel-guitar")
    with open_store(shop.store_url) as store:
        first = store.readings("TG-1", "brace")[0]
        corrected = dataclasses.replace(
            first, millionths=8_010_000, corrects=first.sequence, why="read again"
        )
        held = dataclasses.replace(first, millionths=203_000, suspect="looks like inches.", held=True)
        store.append(corrected, plan)
        store.append(held, plan)
        store.add_event(BenchEvent("2025-03-05T09:00:00.000000Z", "skip", "TG-1", "brace", "width", "middle",
                                   text="no sound wood", by="North"))  # fmt: skip
        store.add_event(BenchEvent("2025-03-06T09:00:00.000000Z", "wait", "TG-1", text="the room is damp"))
    return own


def test_the_record_tells_what_every_row_is_worth(page, visit, kept, heard, broken_rules):
    """Corrected, held and skipped, each with who and why, and what concerns the whole build."""
    visit(f"{kept.address}build/TG-1")
    page.get_by_text("The record: 3 readings, 2 of them no longer count, 1 event").click()
    table = page.get_by_role("region", name="Record of Brace")
    expect(table.get_by_role("row")).to_have_count(5)
    expect(table.get_by_role("row").filter(has_text="corrected")).to_contain_text("8.00 mm")
    expect(table.get_by_role("row").filter(has_text="in place of")).to_contain_text("8.01 mm")
    expect(table.get_by_role("row").filter(has_text="held, does not count")).to_contain_text(
        "looks like inches"
    )
    expect(table.get_by_role("row").filter(has_text="left unread")).to_contain_text("North")
    expect(page.get_by_role("region", name="Record of the whole build")).to_contain_text("the room is damp")
    assert broken_rules() == []
    assert heard == []


def test_a_part_leads_to_its_gate_and_its_bench(page, visit, full):
    """By its own address."""
    visit(f"{full.address}build/TG-1")
    brace = page.locator("section").filter(has=page.get_by_role("heading", name=re.compile("^Brace")))
    expect(brace.get_by_role("link", name="Bench")).to_have_attribute("href", "/bench?build=TG-1&part=brace")
    brace.get_by_role("link", name="Glue-up").click()
    expect(page).to_have_url(re.compile(r"/glueup\?build=TG-1&part=brace$"))
    expect(page.get_by_role("heading", name="Brace", level=1)).to_be_visible()


@pytest.mark.parametrize("width", [390, 1280])
def test_an_open_record_hangs_over_no_edge(page, visit, kept, width, picture):
    """On a telephone the record has fewer columns."""
    page.set_viewport_size({"width": width, "height": 900})
    visit(f"{kept.address}build/TG-1")
    for summary in page.get_by_text("The record:").all():
        summary.click()
    picture(f"build-record-{width}", full_page=True)

    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_builds_are_chosen_by_verdict_and_bench_in_the_address(page, visit, full, heard):
    """Two builds have a part that does not conform: TG-6 from the South bench, LH-1 from the North one."""
    visit(full.address)
    page.get_by_role("textbox", name="Verdict").click()
    page.get_by_role("option", name="does not conform").click()
    expect(page).to_have_url(re.compile(r"verdict=does\+not\+conform"))
    expect(page.get_by_role("rowheader", name="TG-6").first).to_be_visible()
    expect(page.get_by_role("rowheader", name="TG-1")).to_have_count(0)
    page.get_by_role("textbox", name="Read at").click()
    page.get_by_role("option", name="North").click()
    expect(page).to_have_url(re.compile("bench=North"))
    expect(page.get_by_role("rowheader", name="TG-6")).to_have_count(0)
    expect(page.get_by_role("rowheader", name="LH-1").first).to_be_visible()

    visit(f"{full.address}?verdict=not+measured&bench=South")
    expect(page.get_by_text("No build is like that.")).to_be_visible()
    page.get_by_role("link", name="See all builds").click()
    expect(page.get_by_role("rowheader", name="TG-1").first).to_be_visible()
    assert heard == []
