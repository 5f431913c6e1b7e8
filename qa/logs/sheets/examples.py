"""The first readings of a builder's sheet as they would be stored, to be looked at before it is loaded."""

from __future__ import annotations

import datetime as dt

from drivers.lengths import format_length
from qa.logs.form import well_formed
from qa.logs.schema import SCALE
from qa.logs.sheets.names import PLACE
from qa.logs.sheets.rows import OwnSheet, planned

SHOWN = ("taken", "build", *PLACE, "value", "instrument")


def first_readings(own: OwnSheet, zone: dt.tzinfo, unit: str, count: int = 3) -> list[list[str]]:
    """The first readings as texts in the order of `SHOWN`, lengths in `unit`; "?" before what cannot be read.

    `zone` is that of the times.
    """
    raw = next(iter(own.pieces())).frame.head(count)
    frame = well_formed(raw, own.sheet.path.name, zone).frame
    rows = []
    for (_, row), taken in zip(frame.iterrows(), raw["taken_at"], strict=True):
        known = {kind: str(row[kind]) for kind in PLACE}
        place = planned(known, own.names)
        said = row["written_unit"] or (place.unit if place else "")
        moment = (
            f"? {taken}" if row["time"] != row["time"] else f"{row['time'].astimezone(zone):%Y-%m-%d %H:%M}"
        )
        amount = f"? {row['value']}" if row["number"] != row["number"] else _amount(row["number"], said, unit)
        rows.append([moment, row["build"], *known.values(), amount, row["instrument"]])
    return rows


def _amount(number: float, unit: str, shown_in: str) -> str:
    if unit not in ("mm", "in"):
        return f"{number:g} {unit}".strip()
    return format_length(round(number * SCALE[unit]), shown_in)
