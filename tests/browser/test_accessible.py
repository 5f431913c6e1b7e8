"""Every page passes the automatic rules of axe-core, the part of WCAG 2.2 a program can check."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize("address", ["", "build/TG-6", "drift?part=brace", "nowhere"])
def test_a_full_page_breaks_no_rule(visit, full, address, schemes, broken_rules):
    """Names, roles, headings, contrast, by day and in the dark."""
    visit(full.address + address)

    assert {scheme: broken_rules() for scheme in schemes()} == {"light": [], "dark": []}


def test_an_empty_page_breaks_no_rule(visit, empty, broken_rules):
    """What a new shop sees first."""
    visit(empty.address)

    assert broken_rules() == []


def test_the_rules_do_fail_a_bad_page(page, visit, full, schemes, broken_rules):
    """A picture without words and words as dark as the dark are found: an empty answer means something."""
    visit(full.address)
    page.evaluate("document.querySelector('main').append(document.createElement('img'))")
    page.evaluate("document.querySelector('h1').style.color = '#222'")
    found = {scheme: " ".join(broken_rules()) for scheme in schemes()}

    assert "image-alt" in found["light"]
    assert "color-contrast" not in found["light"]
    assert "color-contrast" in found["dark"]
