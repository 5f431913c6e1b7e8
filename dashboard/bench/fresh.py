"""A reading told to open pages the moment it is stored; the page drawn anew, with its verdict, follows."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from dashboard.bench.panels import split, when
from dashboard.desk import UNITS
from dashboard.words import amount, plain
from qa.store.spool_file import is_spooled

if TYPE_CHECKING:
    from qa.record import BenchReading
    from qa.shop import Shop


def told(row: BenchReading, shop: Shop) -> str:
    """What a page needs in order to show a stored reading, as JSON: its number in every unit of length.

    "" for one kept until its server is back: there it gets another mark, and a page could not tell when what
    is drawn anew has come to it.
    """
    if is_spooled(row.sequence):
        return ""
    return json.dumps(
        {
            "build": row.build,
            "part": row.part,
            "mark": row.sequence,
            "what": plain(f"{row.characteristic} {row.station}".strip()),
            "when": when(row, shop),
            "number": {unit: split(amount(row.value, row.unit, unit)) for unit in UNITS},
        }
    )
