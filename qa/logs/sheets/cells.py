"""The text of a cell: cleaned of what the eye does not see, and whether its file settles what it is."""

from __future__ import annotations

import re
import unicodedata

_HIDDEN = dict.fromkeys(map(ord, "\u200b\u2060\ufeff\u00ad\u200e\u200f"))


class Exact(str):
    """The text of a cell that is a real number or date of its file: nothing in it is left to guess."""

    __slots__ = ()


class OverRows(Exact):
    """The result of a formula over other rows, such as a total or a mean of theirs."""

    __slots__ = ()


_SUMMED = re.compile(
    r"\b(?:AVERAGE|COUNT|MAX|MEDIAN|MIN|STDEV|SUBTOTAL|SUM|VAR)[A-Z.]{0,9}\("
    r"[^()]*?\$?[A-Z]{1,3}\$?(?P<first>\d{1,7}):\$?[A-Z]{1,3}\$?(?P<last>\d{1,7})",
    re.IGNORECASE,
)


def is_over_rows(formula: str) -> bool:
    """Whether a formula sums up cells of more than one row: "=ROUND(AVERAGE(D2:D9),2)"."""
    return any(match["first"] != match["last"] for match in _SUMMED.finditer(formula))


def clean(text: str) -> str:
    """A text without what the eye does not see: hidden signs, spaces of all sorts at its ends and doubled."""
    return " ".join(unicodedata.normalize("NFC", text).translate(_HIDDEN).split())
