"""Attributes that tell a screen reader what a picture tells the eye."""

from __future__ import annotations

from typing import Any


def aria(**values: str) -> dict[str, Any]:
    """aria(label="Pages") as the attributes a component takes."""
    return {f"aria-{name}": value for name, value in values.items()}


def data(**values: str) -> dict[str, Any]:
    """data(act="u") as the attributes by which the page's script knows what a component is for."""
    return {f"data-{name}": value for name, value in values.items()}
