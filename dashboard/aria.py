"""Attributes that tell a screen reader what a picture tells the eye."""

from __future__ import annotations

from typing import Any


def aria(**values: str) -> dict[str, Any]:
    """aria(label="Pages") as the attributes a component takes."""
    return {f"aria-{name}": value for name, value in values.items()}
