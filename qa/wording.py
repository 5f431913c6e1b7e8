"""How names, and what somebody wrote, are put into a sentence."""

from __future__ import annotations

from collections.abc import Sequence


def listed(names: Sequence[str], most: int | None = None) -> str:
    """Names as a person lists them, "a, b and c"; where there are more than `most`, "a, b and 5 more"."""
    if most is not None and len(names) > most:
        names = [*names[: most - 1], f"{len(names) - most + 1} more"]
    *first, last = names or ("",)
    return f"{', '.join(first)} and {last}" if first else last


LONGEST = 60
"""As many signs of what somebody wrote are told in one line."""


def shortened(text: str, most: int = LONGEST) -> str:
    """A text as it is, or its beginning and how long it is where that is more than `most` signs."""
    return text if len(text) <= most else f"{text[:most]}... ({len(text)} signs)"
