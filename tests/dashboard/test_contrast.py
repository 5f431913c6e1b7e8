"""Text stands out by 4.5 : 1 and shapes by 3 : 1 (WCAG 2.2, success criteria 1.4.3 and 1.4.11)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import dashboard

CSS = (Path(dashboard.__file__).parent / "assets" / "bench.css").read_text()
LIGHT, DARK = (
    dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block)) for block in CSS.split("@media screen", 2)[:2]
)


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def test_the_measure_itself():
    """Black on white is 21 : 1, the figure WCAG gives."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("colours", [LIGHT, LIGHT | DARK], ids=["daylight", "dark"])
@pytest.mark.parametrize("text", ["ink", "pencil"])
@pytest.mark.parametrize("ground", ["paper", "sheet", "wood-pale"])
def test_text_can_be_read(colours, text, ground):
    """Both inks on every ground they are written on."""
    assert contrast(colours[text], colours[ground]) >= 4.5


@pytest.mark.parametrize("colours", [LIGHT, LIGHT | DARK], ids=["daylight", "dark"])
def test_the_header_can_be_read(colours):
    """The engraving on the whole of the steel."""
    assert min(contrast(colours["steel-ink"], colours[steel]) for steel in ("steel-high", "steel-low")) >= 4.5


@pytest.mark.parametrize("colours", [LIGHT, LIGHT | DARK], ids=["daylight", "dark"])
@pytest.mark.parametrize("mark", ["conforms", "does-not-conform", "focus"])
def test_shapes_can_be_seen(colours, mark):
    """The undecided mark is not here: on paper its edge of ink carries it."""
    assert contrast(colours[mark], colours["paper"]) >= 3
