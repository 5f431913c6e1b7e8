"""Keeps a spreadsheet from taking text of a CSV file for a formula, and gives the text back as it was.

A text cell that begins with = + - @ a tab or a return has an apostrophe put in front, and so has one that
begins with an apostrophe in the same row, so that taking one off gives every cell back. Source of the signs:
OWASP, "CSV Injection".
"""

from __future__ import annotations

from collections.abc import Sequence

GUARDED = "apostrophe_added"
"""The last column of a table in CSV: yes in a row that was guarded."""
DANGEROUS = ("=", "+", "-", "@", "\t", "\r")


def guard(texts: Sequence[str]) -> tuple[list[str], bool]:
    """The text cells of one row made harmless, and whether any had to be."""
    if not any(text.startswith(DANGEROUS) for text in texts):
        return list(texts), False
    return [f"'{text}" if text.startswith((*DANGEROUS, "'")) else text for text in texts], True
