"""Repeatability studies of the invented shop's calipers, values in millimetres."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

CALIPERS = ("CAL-1", "CAL-2")
REPEATS = 10
# part: its size, then the standard deviation of ten repeats by each caliper
ONE_PART = {"spruce-plate": (2.84, (0.024, 0.027)), "cherry-block": (22.06, (0.014, 0.016))}
OFFCUTS = {"cherry-1": 21.91, "cherry-2": 22.03, "cherry-3": 22.08, "cherry-4": 21.97, "cherry-5": 22.14}
TRIALS, OFFCUT_SD = 3, 0.015


def studies(seed: int) -> dict[str, pd.DataFrame]:
    """Make the studies by name, each with part, appraiser (the caliper), trial and value.

    spruce-plate and cherry-block are one part read ten times by each caliper; cherry-offcuts is a crossed
    study of five parts, two calipers and three trials. The first two are scaled to have, before they are
    rounded to the display's step, exactly the standard deviation they are told to have.
    """
    import pandas as pd

    found = {}
    for number, (part, (size, spreads)) in enumerate(ONE_PART.items()):
        rng = np.random.default_rng([seed, 1000, number])
        each = [
            _frame(part, caliper, size + spread * _standardised(rng))
            for caliper, spread in zip(CALIPERS, spreads, strict=True)
        ]
        found[part] = pd.concat(each, ignore_index=True)
    rng = np.random.default_rng([seed, 1000, len(ONE_PART)])
    crossed = [
        _frame(part, caliper, size + OFFCUT_SD * rng.standard_normal(TRIALS))
        for part, size in OFFCUTS.items()
        for caliper in CALIPERS
    ]
    return {**found, "cherry-offcuts": pd.concat(crossed, ignore_index=True)}


def _standardised(rng: np.random.Generator) -> NDArray[np.float64]:
    drawn = rng.standard_normal(REPEATS)
    return np.asarray((drawn - drawn.mean()) / drawn.std(ddof=1), dtype=np.float64)


def _frame(part: str, caliper: str, values: NDArray[np.float64]) -> pd.DataFrame:
    import pandas as pd

    trials = range(1, values.size + 1)
    return pd.DataFrame({"part": part, "appraiser": caliper, "trial": trials, "value": np.round(values, 2)})
