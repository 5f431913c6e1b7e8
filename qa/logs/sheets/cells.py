"""The text of a cell: cleaned of what the eye does not see, and whether its file settles what it is."""

from __future__ import annotations

import unicodedata

_HIDDEN = dict.fromkeys(map(ord, "\u200b\u2060\ufeff\u00ad\u200e\u200f"))


class Exact(str):
    """The text of a cell that is a real number or date of its file: nothing in it is left to guess."""

    __slots__ = ()


def clean(text: str) -> str:
    """A text without what the eye does not see: hidden signs, spaces of all sorts at its ends and doubled."""
    return " ".join(unicodedata.normalize("NFC", text).translate(_HIDDEN).split())
