"""The first readings of a builder's sheet as they would be stored, to be looked at before it is loaded."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from drivers.lengths import format_length
from qa.logs.form import well_formed
from qa.logs.schema import SCALE
from qa.logs.sheets.names import PLACE, Place
from qa.logs.sheets.rows import OwnSheet, planned

if TYPE_CHECKING:
    import pandas as pd

SHOWN = ("taken", "build", *PLACE, "value", "instrument")


def first_readings(own: OwnSheet, zone: dt.tzinfo, unit: str, count: int = 3) -> list[list[str]]:
    """The first readings as texts in the order of `SHOWN`, lengths in `unit`; "?" before what cannot be read.

    `zone` is that of the times.
    """
    raw = next(iter(own.pieces())).frame.head(count)
    frame = well_formed(raw, own.sheet.path.name, zone).frame
    rows = []
    for (_, row), taken in zip(frame.iterrows(), raw["taken_at"], strict=True):
        place_names = {kind: str(row[kind]) for kind in PLACE}
        place = planned(place_names, own.names)
        moment = (
            f"? {taken}" if row["time"] != row["time"] else f"{row['time'].astimezone(zone):%Y-%m-%d %H:%M}"
        )
        amount = f"? {row['value']}" if row["number"] != row["number"] else _amount(row, place, unit)
        rows.append([moment, row["build"], *place_names.values(), amount, row["instrument"]])
    return rows


def _amount(row: pd.Series[Any], place: Place | None, shown_in: str) -> str:
    number, unit = float(row["number"]), row["written_unit"] or (place.unit if place else "")
    if unit not in ("mm", "in"):
        return f"{number:g} {unit}".strip()
    return format_length(round(number * SCALE[unit]), shown_in)
