"""Studies typed or pasted as text, and the keeping of the repeatability that one found."""

from __future__ import annotations

import datetime as dt
import io
from typing import TYPE_CHECKING

from drivers.lengths import parse_length
from qa.arithmetic.study_readings import COLUMNS
from qa.calipers.study import read_study
from qa.errors import ShopError
from qa.record import BenchEvent, utc

if TYPE_CHECKING:
    import pandas as pd

    from qa.calipers.study import Study
    from qa.instruments import Instrument
    from qa.store.store import Store

MOST = 2000
"""Readings taken from a text; a study of a workshop has tens."""


def study_of_text(text: str, appraiser: str) -> pd.DataFrame:
    """The readings of a study as typed: a table with the columns part, appraiser, trial, value, or numbers.

    Numbers alone, apart by blanks, semicolons or lines, are repeats of one part by the `appraiser`, in
    millimetres unless they name another unit. ShopError says what cannot be read.
    """
    if not text.strip():
        raise ShopError("there are no readings yet: type ten of one part, or paste a table")
    first = text.strip().splitlines()[0].lower()
    if all(name in first for name in COLUMNS):
        return read_study(io.StringIO(text.strip().replace("\t", ",")), "the table")
    return _repeats(text, appraiser)


def _repeats(text: str, appraiser: str) -> pd.DataFrame:
    import pandas as pd

    words = text.replace(";", " ").replace(", ", " ").split()
    if len(words) > MOST:
        raise ShopError(f"{len(words)} readings are too many: a study has {MOST} at most")
    values = [_millimetres(number, word) for number, word in enumerate(words, 1)]
    trials = [str(number) for number in range(1, len(values) + 1)]
    return pd.DataFrame({"part": "1", "appraiser": appraiser, "trial": trials, "value": values})


def _millimetres(place: int, word: str) -> float:
    try:
        return parse_length(word)
    except ValueError as error:
        raise ShopError(f"reading {place}, {word!r}: {error}") from error


def keep_study(
    store: Store,
    made: Study,
    instrument: Instrument,
    source: str,
    by: str = "",
    now: dt.datetime | None = None,
) -> None:
    """Keep the repeatability a study found for an instrument; later verdicts count with it.

    `source` says where its readings are from. CannotSay where the study has none of that instrument.
    """
    repeats = made.of(instrument.id)
    body = {
        "repeatability": round(repeats.repeatability, 9),
        "dof": repeats.dof,
        "readings": repeats.n,
        "study": made.kind,
        "file": source,
    }
    at = utc(now or dt.datetime.now(dt.UTC))
    text = source.removesuffix(".csv")
    store.add_event(BenchEvent(at, "study", instrument=instrument.id, text=text, by=by, body=body))
