"""The addresses of pages, as links write them."""

from __future__ import annotations

from urllib.parse import quote, urlencode


def build_at(build: str) -> str:
    """The address of a build's own page."""
    return f"/build/{quote(build, safe='')}"


def drift_of(part: str, characteristic: str = "", station: str = "") -> str:
    """The address of a part's drift."""
    asked = {"part": part, "characteristic": characteristic, "station": station}
    return "/drift?" + urlencode({name: value for name, value in asked.items() if value})
