"""Two years of readings of the invented shop, made from one seed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from qa.logs.piece import COLUMNS
from qa.sample_shop import calendar, stories
from qa.sample_shop.series import SERIES, Series

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

DEFAULT_SEED = 2751
SECONDS_A_READING = 70
WIDTH = next(series for series in SERIES if series.name == "tail-block/width")


@dataclass(frozen=True, slots=True)
class Row:
    """One reading before it has a climate and an instrument."""

    build: int
    series: Series
    station: str
    value: float
    started: datetime
    rh: int
    note: str = ""

    @property
    def place(self) -> tuple[int, str, str, str]:
        """Build number, part, characteristic and station."""
        return self.build, self.series.part, self.series.characteristic, self.station


def _true_sizes(series: Series, rng: np.random.Generator) -> NDArray[np.float64]:
    """Draw the true sizes, builds by stations: target, build, place and story."""
    builds = np.arange(1, calendar.BUILDS + 1)
    size = (builds.size, len(series.stations))
    build = series.build_sd * rng.standard_normal((builds.size, 1))
    within = series.within_sd * rng.standard_normal(size)
    return np.asarray(series.target + (build + within) + stories.added(series, builds, rng), dtype=np.float64)


def read(series: Series, true: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    """Read true sizes once each: repeatability, the caliper's offset, the display's step; gaps stay >= 0."""
    builds = np.arange(1, calendar.BUILDS + 1)
    shown = true + series.repeat_sd * rng.standard_normal(true.shape)
    shown = shown + stories.caliper_offset(series, builds)[:, None]
    if series.read_with == "feelers":
        shown = np.maximum(shown, 0.0)
    return np.asarray(np.round(shown, 2), dtype=np.float64)


def rows_of(series: Series, values: NDArray[np.float64]) -> list[Row]:
    """Lay a series out as the rows of the cutting days."""
    return [
        Row(
            build,
            series,
            station,
            float(values[build - 1, column]),
            calendar.at(calendar.cut_day(build), 8, 30),
            calendar.batch_of(build).rh_cut,
        )
        for build in range(1, calendar.BUILDS + 1)
        for column, station in enumerate(series.stations)
    ]


def _before_glue(true: NDArray[np.float64], rng: np.random.Generator) -> list[Row]:
    """Read the tail blocks' width again on the glue day, and once more where glue had to wait."""
    rows = []
    for build in range(1, calendar.BUILDS + 1):
        batch, day = calendar.batch_of(build), calendar.glue_day(build)
        visits = [(day, batch.rh_glue, batch.swelling, "before glue")]
        if wait := calendar.WAITS.get(build):
            visits.append((day + timedelta(days=wait.days), wait.rh, wait.since_cut, wait.note))
        off = stories.CALIPER_OFFSET if build in stories.CALIPER_OFF[:-1] else 0
        for on, rh, moved, note in visits:
            for column, station in enumerate(WIDTH.stations):
                shown = true[build - 1, column] + moved + off + WIDTH.repeat_sd * rng.standard_normal()
                rows.append(Row(build, WIDTH, station, round(float(shown), 2), calendar.at(on, 9), rh, note))
    return rows


def tell(rows: list[Row]) -> list[Row]:
    """Put in what the display is told to have shown, the fuzz, and the station left out."""
    told = []
    for row in rows:
        first = not row.note
        if first and row.place == stories.SKIPPED:
            continue
        if first and row.place in stories.TOLD:
            row = replace(row, value=stories.TOLD[row.place])
        if first and row.place in stories.FUZZED:
            row = replace(row, value=round(row.value + stories.FUZZ, 2))
        if first and row.place == (*stories.SKIPPED[:3], stories.SKIP_NOTED_AT):
            row = replace(row, note=stories.SKIP_NOTE)
        told.append(row)
    return told


def again(rows: list[Row]) -> list[Row]:
    """Read again later the same day: after two shavings, and after wiping fuzz off."""
    later = []
    for row in rows:
        afternoon = calendar.at(calendar.cut_day(row.build), 15, 10)
        if row.series.name == "tail-block/thickness" and row.build == stories.SHAVED_BUILD:
            if row.station in stories.SHAVED:
                value, note = stories.SHAVED[row.station], "after two shavings at the top"
                later.append(replace(row, value=value, started=afternoon, note=note))
        elif row.place in stories.FUZZED and row.build in stories.READ_AGAIN_AFTER_FUZZ:
            later.append(replace(row, started=afternoon, note="read again, fuzz wiped off"))
    return later


def record(row: Row, index: int, jitter: int, temp_c: float) -> dict[str, object]:
    """Write a row in the columns of a log; `index` counts the readings of one visit."""
    taken = row.started + timedelta(seconds=index * SECONDS_A_READING + jitter)
    feelers = row.series.read_with == "feelers"
    return {
        "taken_at": taken.isoformat(),
        "build": calendar.label(row.build),
        "part": row.series.part,
        "characteristic": row.series.characteristic,
        "station": row.station,
        "value": row.value,
        "unit": "mm",
        "instrument": "FEELERS" if feelers else calendar.caliper_of(row.build),
        "bench": calendar.bench_of(row.build),
        "machine": row.series.machine,
        "rh_percent": row.rh,
        "temp_c": temp_c,
        "note": row.note,
    }


def stamped(rows: list[Row], rng: np.random.Generator) -> list[dict[str, object]]:
    """Give the readings of each visit a minute or so each, and each visit one temperature."""
    records: list[dict[str, object]] = []
    visit: tuple[datetime, int] | None = None
    start, temp_c = 0, 0.0
    for count, row in enumerate(sorted(rows, key=lambda each: (each.started, each.build))):
        if (row.started, row.build) != visit:
            visit, start = (row.started, row.build), count
            temp_c = round(calendar.batch_of(row.build).temp_c + 0.4 * rng.standard_normal(), 1)
        records.append(record(row, count - start, int(rng.integers(0, 40)), temp_c))
    return records


def generate(seed: int = DEFAULT_SEED) -> pd.DataFrame:
    """Make the invented shop's readings, oldest first, in the columns of a log; values in millimetres.

    Each series has its own stream of random numbers, so a change to one leaves the others as they were.
    """
    import pandas as pd

    rows: list[Row] = []
    for number, series in enumerate(SERIES):
        rng = np.random.default_rng([seed, number])
        true = _true_sizes(series, rng)
        first = rows_of(series, read(series, true, rng))
        rows += tell(first) + again(first)
        if series is WIDTH:
            rows += _before_glue(true, rng)
    return pd.DataFrame(stamped(rows, np.random.default_rng([seed, len(SERIES)])), columns=list(COLUMNS))
