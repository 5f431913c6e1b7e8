"""What a row is called that is about readings and holds none: a total, a mean, a limit."""

from __future__ import annotations

import re

from qa.logs.sheets.names import plain

_WORDS = (
    "total", "sum", "mean", "average", "avg", "ave", "median", "min", "minimum", "max", "maximum", "range",
    "count", "std", "sd", "stdev", "(?:std|standard)[. ]*dev(?:iation)?", "target", "nominal", "limit",
    "tolerance", "tol", "spec", "σ", "ø",
)  # fmt: skip
_TOTAL = re.compile(
    rf"(?:(?:sub|grand|overall|upper|lower) ?)?(?:{'|'.join(_WORDS)})s?\.?"
    r"(?: ?[(:=].*| (?:of|for|values?|sizes?|readings?)\b.*)?"
)
"""The trade's plain words for such a row (common practice, no source)."""


def is_total(name: str) -> bool:
    """Whether a row of that name looks like a total, a mean or a limit: as "Mean of 12" does."""
    return _TOTAL.fullmatch(plain(name)) is not None
