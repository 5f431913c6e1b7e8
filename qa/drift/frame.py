"""One series as a table for a figure: a row a build, with everything that is drawn there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

    from qa.drift.report import SeriesReport

COLUMNS = (
    "build", "deviation", "charted", "center", "lower", "upper", "smoothed", "smoothed_lower",
    "smoothed_upper", "tolerance_lower", "tolerance_upper", "signal", "pattern", "fix", "new_baseline",
    "bench", "instrument", "machine", "rh_percent",
)  # fmt: skip


def frame(found: SeriesReport) -> pd.DataFrame:
    """Columns as COLUMNS, one row a build, oldest first.

    `deviation` and tolerances are distances from target in the track's unit; `charted`, `center` and limits
    are on the chart's scale (the same unless models differ in spread), NaN where a chart says nothing yet.
    `signal`, `pattern` and `fix` are text, "" for none; `new_baseline` is true where a fix began a phase.
    """
    import pandas as pd

    drawn, made = found.chart, found.track.made
    signals, patterns, lines = ([""] * len(made) for _ in range(3))
    for texts, marks in ((signals, drawn.signals), (patterns, drawn.patterns)):
        for mark in marks:
            texts[mark.index] = "; ".join(filter(None, (texts[mark.index], mark.rule)))
    for index, fix in found.fixes:
        lines[index] = "; ".join(filter(None, (lines[index], fix.text)))
    return pd.DataFrame(
        {
            "build": [one.build for one in made],
            "deviation": found.track.deviations,
            "charted": drawn.values,
            "center": drawn.center,
            "lower": drawn.lower,
            "upper": drawn.upper,
            "smoothed": drawn.smoothed,
            "smoothed_lower": drawn.smoothed_lower,
            "smoothed_upper": drawn.smoothed_upper,
            "tolerance_lower": [np.nan if one.lower is None else one.lower for one in made],
            "tolerance_upper": [np.nan if one.upper is None else one.upper for one in made],
            "signal": signals,
            "pattern": patterns,
            "fix": lines,
            "new_baseline": [i in drawn.starts[1:] for i in range(len(made))],
            "bench": [one.bench for one in made],
            "instrument": [one.instrument for one in made],
            "machine": [one.machine for one in made],
            "rh_percent": [np.nan if one.rh is None else one.rh for one in made],
        },
        columns=list(COLUMNS),
    )
