"""Whether each reading of a log lies within what its instrument can read at all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from qa.bench.watch import beyond_range
from qa.characteristics.base import MILLION
from qa.errors import LogProblem

if TYPE_CHECKING:
    import pandas as pd

    from qa.instruments import Instrument


def beyond_ranges(frame: pd.DataFrame, instruments: Mapping[str, Instrument], file: str) -> list[LogProblem]:
    """A problem for each row that its instrument cannot have read.

    frame: checked rows with `instrument`, `millionths` of `stored_unit`, and `value` as written, shape [n].
    Nothing is said of an instrument that the shop does not know, whose range it does not know, or that
    measures something else.
    """
    problems = []
    for name, item in instruments.items():
        if item.span is None:
            continue
        own = frame[(frame["instrument"] == name) & (frame["stored_unit"] == item.unit)]
        values = own["millionths"] / MILLION
        whys = values.map({value: beyond_range(item, value) for value in values.unique()}).dropna()
        problems += [
            LogProblem(file, index, "value", str(own.at[index, "value"]), f"{why}; mend it")
            for index, why in zip(whys.index.tolist(), whys.tolist(), strict=True)
        ]
    return problems
