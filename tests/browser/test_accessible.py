"""Every page passes the automatic rules of axe-core, the part of WCAG 2.2 a program can check."""

from __future__ import annotations

import pytest

axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe-playwright-python")


def violations(page) -> list[str]:
    found = axe.Axe().run(page).response["violations"]
    return [f"{rule['id']}: {rule['help']}: {rule['nodes'][0]['html']}" for rule in found]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("address", ["", "build/TG-6", "drift?part=brace", "nowhere"])
def test_a_full_page_breaks_no_rule(page, visit, full, address, scheme):
    """Names, roles, headings, contrast."""
    page.emulate_media(color_scheme=scheme)
    visit(full.address + address)

    assert violations(page) == []


def test_an_empty_page_breaks_no_rule(page, visit, empty):
    """What a new shop sees first."""
    visit(empty.address)

    assert violations(page) == []


def test_the_rules_do_fail_a_bad_page(page, visit, full):
    """A picture without words is found, so that an empty answer means something."""
    visit(full.address)
    page.evaluate("document.querySelector('main').append(document.createElement('img'))")

    assert any(rule.startswith("image-alt") for rule in violations(page))
