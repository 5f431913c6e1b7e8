"""Studies typed or pasted as text, and the keeping of the repeatability that one found."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from drivers.lengths import parse_length
from qa.arithmetic.study_readings import COLUMNS
from qa.calipers.study import FIRM, LIGHT
from qa.calipers.study_file import read_study
from qa.errors import CannotSay, ShopError
from qa.record import BenchEvent, utc

if TYPE_CHECKING:
    import pandas as pd

    from qa.calipers.study import Study
    from qa.instruments import Instrument
    from qa.store.store import Store

MOST = 2000
"""Readings taken from a text; a study of a workshop has tens."""


def study_of_text(text: str, appraiser: str, compliance: bool = False) -> pd.DataFrame:
    """The readings of a study as typed: a table with the columns part, appraiser, trial, value, or numbers.

    Numbers alone, apart by blanks, semicolons or lines, are repeats of one part by the `appraiser`, in
    millimetres unless they name another unit; for `compliance`, by a light and a firm thumb in turn.
    ShopError says what cannot be read.
    """
    if not text.strip():
        raise ShopError("there are no readings yet: type ten of one part, or paste a table")
    first = text.strip().splitlines()[0].lower()
    if all(name in first for name in COLUMNS):
        return read_study(io.StringIO(text), "the table")
    return _repeats(text, [LIGHT, FIRM] if compliance else [appraiser])


def _repeats(text: str, appraisers: Sequence[str]) -> pd.DataFrame:
    import pandas as pd

    words = text.replace(";", " ").replace(", ", " ").split()
    if len(words) > MOST:
        raise ShopError(f"{len(words)} readings are too many: a study has {MOST} at most")
    rows = [
        (str(number // len(appraisers) + 1), appraisers[number % len(appraisers)], _millimetres(number, word))
        for number, word in enumerate(words)
    ]
    return pd.DataFrame(rows, columns=["trial", "appraiser", "value"]).assign(part="1")


def _millimetres(place: int, word: str) -> float:
    try:
        return parse_length(word)
    except ValueError as error:
        raise ShopError(f"reading {place + 1}, {word!r}: {error}") from error


def keep_study(
    store: Store,
    made: Study,
    instrument: Instrument,
    source: str,
    by: str = "",
    now: dt.datetime | None = None,
    among: Collection[str] = (),
) -> None:
    """Keep the repeatability a study found for an instrument; later verdicts on that wood count with it.

    `source` says where its readings are from; `among` names the instruments of the shop. CannotSay where the
    study has none of that instrument, is of another, or is not what it measures.
    """
    if instrument.quantity != "length":
        raise CannotSay(f"{instrument.id} measures {instrument.quantity}: a study is of lengths")
    repeats = made.of(instrument.id)
    if repeats.name != instrument.id and repeats.name in among:
        raise made.none_of(instrument.id)
    body: dict[str, object] = {
        "repeatability": round(repeats.repeatability, 9),
        "dof": repeats.dof,
        "readings": repeats.n,
        "study": made.kind,
        "file": source,
    }
    if made.species:
        body["species"] = made.species
    at = utc(now or dt.datetime.now(dt.UTC))
    text = source.removesuffix(".csv")
    store.add_event(BenchEvent(at, "study", instrument=instrument.id, text=text, by=by, body=body))
