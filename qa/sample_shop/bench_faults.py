"""The bad lines the benches of the invented shop sent, each beside the good reading taken instead."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

SECONDS_BEFORE = 20

# build, part, characteristic, station: where; then the text and the unit that came
SENT_WRONG = (
    ("OM-07", "fingerboard", "thickness", "nut-left", "5.", "mm"),
    ("OM-14", "side-left", "thickness", "quarter-lower", "0.075", ""),
    ("OM-19", "top", "centre-thickness", "centre-left", "28.5", "mm"),
)
DOUBLED = ("OM-22", "bridge-patch", "thickness", "top-left")


def bench_faults(log: pd.DataFrame) -> pd.DataFrame:
    """Make the bad lines of a log of texts, in its columns and in order of time.

    A cut record, inches without a unit and a slipped decimal point come twenty seconds before the good
    reading; the doubled line is a good reading of the log, twice.
    """
    import pandas as pd

    wrong = [_sent_wrong(_at(log, place), text, unit) for *place, text, unit in SENT_WRONG]
    doubled = _at(log, list(DOUBLED))
    return pd.concat([*wrong, doubled, doubled], ignore_index=True).sort_values("taken_at", ignore_index=True)


def _at(log: pd.DataFrame, place: list[str]) -> pd.DataFrame:
    keys = log[["build", "part", "characteristic", "station"]]
    return log[(keys == place).all(axis=1)].head(1)


def _sent_wrong(good: pd.DataFrame, text: str, unit: str) -> pd.DataFrame:
    moment = datetime.fromisoformat(good["taken_at"].iloc[0]) - timedelta(seconds=SECONDS_BEFORE)
    return good.assign(taken_at=moment.isoformat(), value=text, unit=unit)
