"""The diary of the invented shop: dated events that are not readings.

It is never told to an analysis of the readings, which has to find the faults from them alone.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from qa.sample_shop import calendar, stories

if TYPE_CHECKING:
    import pandas as pd

BLOCK = 25.0
CLEANED = calendar.at(calendar.cut_day(stories.CALIPER_OFF[-1]), 18)
CALIPERS = (("CAL-1", "North"), ("CAL-2", "South"))
OVERRIDDEN = {
    9: "the promised date stands; dry fit closes, the block has moved less than a third of its tolerance",
    10: "same week as OM-09; dry fit closes",
    11: "same week as OM-09; dry fit closes",
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the diary; `reference` and `reading` in millimetres, texts, for checks only."""

    at: datetime
    kind: str
    text: str
    by: str = "shop"
    build: str = ""
    part: str = ""
    characteristic: str = ""
    station: str = ""
    instrument: str = ""
    reference: str = ""
    reading: str = ""


def fixes() -> list[Entry]:
    """Tell what was changed in the shop."""
    reset = calendar.cut_day(stories.FENCE_RESET - 1)
    changed = calendar.cut_day(stories.HOLD_CHANGED) - timedelta(days=1)
    return [
        Entry(calendar.at(date(2025, 1, 27), 17), "fix", "humidifier set up for the winter"),
        Entry(calendar.at(reset, 17, 30), "fix", "table saw: rip fence had crept out, reset to its mark"),
        Entry(calendar.at(date(2025, 5, 12), 12), "fix", "dehumidifier bought"),
        Entry(
            calendar.at(changed, 17),
            "fix",
            "changed hold when planing blocks: weight off the top end at the end of the stroke",
            "South",
            part="tail-block",
            characteristic="taper",
        ),
        Entry(CLEANED, "fix", "dried glue wiped off a jaw, zero set again", "South", instrument="CAL-2"),
    ]


def climate() -> list[Entry]:
    """Tell what the hygrometer's own checks gave."""
    text = "hygrometer in a bag with wet table salt reads 76 for 75: take 1 off; logs hold what it showed"
    return [Entry(calendar.at(day, 9), "climate", text) for day in (date(2024, 1, 29), date(2025, 1, 3))]


def gates() -> list[Entry]:
    """Tell where the room was out of band at glue-up and what was done: overridden, or waited."""
    entries = []
    for build, why in OVERRIDDEN.items():
        entries.append(_gate("override", build, calendar.at(calendar.glue_day(build), 9, 30), why))
    for build, wait in calendar.WAITS.items():
        text = f"room out of band: waited {wait.days} days, glued at {wait.rh} %"
        entries.append(_gate("wait", build, calendar.at(calendar.glue_day(build), 9, 30), text))
    return entries


def _gate(kind: str, build: int, moment: datetime, text: str) -> Entry:
    return Entry(moment, kind, text, calendar.bench_of(build), calendar.label(build), "tail-block")


def remarks() -> list[Entry]:
    """Tell of the skipped station, the readings in doubt and the revised plan."""
    build, part, characteristic, station = stories.SKIPPED
    why = stories.SKIP_NOTE.partition(": ")[2]
    skipped = calendar.at(calendar.cut_day(build), 9)
    in_doubt = (
        "all read between the jaws of CAL-2 up to its cleaning is 0.06 high: marked in doubt, not rewritten"
    )
    return [
        Entry(skipped, "skip", why, "North", calendar.label(build), part, characteristic, station, "CAL-1"),
        *[
            Entry(
                CLEANED + timedelta(minutes=5),
                "in doubt",
                in_doubt,
                "South",
                calendar.label(n),
                instrument="CAL-2",
            )
            for n in stories.CALIPER_OFF
        ],
        Entry(
            calendar.at(calendar.cut_day(stories.BACK_REVISED), 8),
            "plan",
            "revision r2: back 2.60 becomes 2.55, from this build on",
            build=calendar.label(stories.BACK_REVISED),
            part="back",
            characteristic="thickness",
        ),
    ]


def checks(seed: int) -> list[Entry]:
    """Tell the caliper checks: zero and a 25.00 block, before each batch and after its last glue-up.

    CAL-2 was not checked from after OM-24 until the evening of OM-30.
    """
    rng = np.random.default_rng([seed, 2000])
    entries = []
    for first in range(1, calendar.BUILDS + 1, calendar.BATCH_SIZE):
        last = first + calendar.BATCH_SIZE - 1
        for moment in (calendar.at(calendar.cut_day(first), 8), calendar.at(calendar.glue_day(last), 17)):
            for instrument, bench in CALIPERS:
                shown = np.round(rng.normal(0.0, 0.004, 2), 2)
                if not _forgotten(instrument, moment):
                    entries += _check(moment, instrument, bench, float(shown[0]), float(shown[1]))
    off = stories.CALIPER_OFFSET
    entries += _check(CLEANED - timedelta(minutes=30), "CAL-2", "South", off, off)
    return entries + _check(CLEANED + timedelta(minutes=10), "CAL-2", "South", 0.0, 0.0)


def _forgotten(instrument: str, moment: datetime) -> bool:
    after = calendar.at(calendar.glue_day(stories.CALIPER_OFF[0] - 2), 18)
    return instrument == "CAL-2" and after < moment < CLEANED


def _check(moment: datetime, instrument: str, bench: str, zero: float, block: float) -> list[Entry]:
    rows = (("jaws closed", 0.0, zero), ("25.00 block", BLOCK, BLOCK + block))
    return [
        Entry(
            moment + timedelta(minutes=minute),
            "check",
            what,
            bench,
            instrument=instrument,
            reference=f"{reference:.2f}",
            reading=f"{reading + 0.0:.2f}",
        )
        for minute, (what, reference, reading) in enumerate(rows)
    ]


def diary(seed: int) -> pd.DataFrame:
    """Make the whole diary, oldest first."""
    import pandas as pd

    entries = fixes() + climate() + gates() + remarks() + checks(seed)
    rows = [{**asdict(each), "at": each.at.isoformat()} for each in sorted(entries, key=lambda e: e.at)]
    columns = ["at", "kind", "build", "part", "characteristic", "station", "instrument", "text", "by"]
    return pd.DataFrame(rows)[[*columns, "reference", "reading"]]
