"""Drift of the whole demo shop in a real browser: causes first, series by what matters, on every screen."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from playwright.sync_api import expect

from qa.demo import make_demo

SAW = "drift?part=brace&characteristic=width"


@pytest.fixture(scope="module")
def demo(serve_shop, tmp_path_factory):
    """Served: the demo shop with its two years. Tests must not store in it."""
    served = serve_shop(make_demo(tmp_path_factory.mktemp("demo") / "shop").folder)
    yield served
    served.stop()


@pytest.fixture
def go(page, demo):
    """Opens an address of the demo shop, and waits while its report is being worked out."""

    def to(address: str) -> None:
        page.goto(demo.address + address)
        expect(page.locator("#drift-body")).to_be_visible(timeout=30_000)

    return to


def test_causes_come_first_with_their_evidence(page, go, heard):
    """The saw, the caliper, the bench and the air, each with what speaks for it and how sure that is."""
    go("drift")
    causes = page.locator(".causes > li")

    expect(causes).to_have_count(4)
    for words in ("table saw", "CAL-2", "South", "the air since it was cut"):
        expect(causes.filter(has=page.get_by_role("heading", name=re.compile(words)))).to_contain_text(
            "chance alone", ignore_case=True
        )
    expect(causes.filter(has_text="table saw").first).to_contain_text("crept together by +0.24 mm")
    assert page.locator("h2").all_inner_texts() == ["Likely causes", "The room", "Machines", "Series"]
    assert heard == []


def test_series_stand_by_what_deserves_attention(page, go):
    """The saw's cut first; each with a picture said in words and a sentence; the quiet ones in one line."""
    go("drift")
    small = page.locator(".multiples > li")
    expect(small).to_have_count(8)

    expect(small.first.get_by_role("heading")).to_have_text("Brace, width")
    expect(small.first.get_by_role("img", name=re.compile("36 builds. It moved"))).to_be_visible()
    expect(small.first).to_contain_text("It moved: the chart first speaks at OM-14")
    expect(page.locator(".quiet-series")).to_contain_text("Nothing beyond its limits in")
    assert page.locator(".quiet-series a").count() >= 10


def test_from_the_shop_to_a_series_and_back(page, go, heard):
    """A link opens the series in depth, the back button returns to all of them."""
    go("drift")
    page.locator(".multiples").get_by_role("link", name="Brace, width").click()
    expect(page.get_by_role("heading", name="Brace, width, mean of stations")).to_be_visible()

    page.go_back()
    expect(page.get_by_role("heading", name="Likely causes")).to_be_visible()
    expect(page.locator(".multiples .point").first).to_be_visible()
    assert heard == []


def test_every_link_of_the_overview_opens_a_chart(page, go):
    """Differences, pairs and stations too: no address leads to an error."""
    go("drift")
    expect(page.locator(".quiet-series")).to_be_visible()
    links = page.eval_on_selector_all("#drift-body a", "all => all.map(a => a.getAttribute('href'))")
    odd = [link for link in dict.fromkeys(links) if "station=" in link and "mean+of" not in link]

    assert len(odd) >= 4
    for link in odd:
        go(link.lstrip("/"))
        expect(page.locator("#drift-chart .point").first).to_be_visible()


def test_signals_and_fixes_are_said_beside_the_chart(page, go):
    """Not by hovering alone: the run of the saw in numbers, the reset of its fence, the average's strip."""
    go(SAW)

    signals = page.locator("#drift-signals > li")
    expect(signals).to_have_count(1)
    expect(signals).to_contain_text("OM-14 to OM-22, 9 in a row")
    expect(signals).to_contain_text(
        re.compile(r"\+0\.177 mm, where builds like those before it would lie between")
    )
    expect(page.locator("#drift-fixes")).to_contain_text("rip fence had crept out, reset to its mark")
    expect(page.locator("#drift-fixes")).to_contain_text("the chart begins anew with OM-23")
    expect(page.locator("#drift-numbers")).to_contain_text("you could honestly promise ±0.19 mm")
    expect(page.locator("#drift-numbers")).to_contain_text("the shop's own variation is 0.08 mm")
    expect(page.locator("#drift-numbers")).to_contain_text("It stepped by +0.15 mm")


def test_the_page_says_what_the_command_says(page, demo, go):
    """The sentences of `dryfit drift` on the same shop, word for word."""
    from qa.drift.report import report
    from qa.drift.words import sayer, series_sentences
    from qa.shop import load_shop
    from qa.store.store import open_store

    shop = load_shop(demo.folder)
    with open_store(shop.store_url) as store:
        found = report(shop, store)
    said = series_sentences(found.series[0], found.causes, sayer(shop.unit))

    go(SAW)
    expect(page.locator("#drift-verdict")).to_have_text(said[0])
    assert page.locator("#drift-numbers li").all_inner_texts() == said[1:]


def test_inches_throughout(page, go):
    """Shown in the other unit, no millimetre is left on either page."""
    go("drift")
    page.get_by_role("button", name="Inches").click()
    expect(page.locator(".causes")).to_contain_text(" in ")
    expect(page.locator("#drift-body")).not_to_contain_text(re.compile(r"\d mm"))

    page.locator(".multiples").get_by_role("link", name="Brace, width").click()
    expect(page.locator("#drift-signals")).to_contain_text("+0.0070 in")
    expect(page.locator("#drift-body")).not_to_contain_text(re.compile(r"\d mm"))
    expect(page.locator("#drift-chart")).to_contain_text("from target, in")


@pytest.mark.parametrize("address", ["drift", SAW, f"{SAW}&station=middle&marks=caliper"])
def test_no_rule_is_broken(page, go, address, schemes, broken_rules):
    """axe-core finds nothing on the overview or in depth, with the form open, by day or in the dark."""
    go(address)
    page.get_by_text("State a fix").click()
    expect(page.locator(".js-plotly-plot .point").first).to_be_visible()

    assert {scheme: broken_rules() for scheme in schemes()} == {"light": [], "dark": []}


@pytest.mark.parametrize("address", ["drift", SAW, f"{SAW}&station=middle"])
def test_a_phone_needs_no_sideways_scroll(page, go, address):
    """At 390 pixels everything is within the screen, the chart too."""
    page.set_viewport_size({"width": 390, "height": 800})
    go(address)
    expect(page.locator(".js-plotly-plot .point").first).to_be_visible()

    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_paper_holds_the_chart_within_its_frame(page, go):
    """As printed, no chart reaches over what stands below or beside it, and the form is left out."""
    page.set_viewport_size({"width": 1280, "height": 900})
    go(SAW)
    expect(page.locator("#drift-chart .point").first).to_be_visible()
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 688, "height": 900})  # the width of an A4 page within its margins
    page.wait_for_function(
        """() => {
            const [chart, frame, key] = ["#drift-chart .main-svg", ".frame", ".chart-key"].map(
                name => document.querySelector(name).getBoundingClientRect());
            return chart.bottom <= key.top + 2 && chart.width <= frame.width + 2;
        }""",
        timeout=5000,
    )
    expect(page.locator("#fix-form")).to_be_hidden()


def test_by_keyboard_alone(page, go):
    """Every link, choice and the form is reached by Tab, and the form opens and closes by Enter."""
    go(SAW)
    expect(page.locator("#drift-chart .point").first).to_be_visible()
    page.locator("#drift-marks").focus()
    seen = set()
    for _ in range(120):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("(document.activeElement.innerText || '').trim()"))
        if "State a fix" in seen:
            break
    assert {"OM-14", "OM-36", "State a fix", "middle"} <= seen

    page.keyboard.press("Enter")
    expect(page.get_by_role("textbox", name="What was put right")).to_be_visible()
    today = dt.datetime.now().astimezone().date()
    shown = dt.date.fromisoformat(page.get_by_role("textbox", name="Day").input_value())
    assert abs((shown - today).days) <= 1  # the shop's clock may be a day off this computer's
