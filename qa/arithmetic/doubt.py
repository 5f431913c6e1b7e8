"""Doubts a size that is a unit or a decimal place away from its target, before it is believed."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

WITHIN = 0.05  # of the ratio; common practice, no source
SLIPS = (
    (25.4, "is 25.4 times its target: was it meant in the other unit?"),
    (1 / 25.4, "is its target divided by 25.4: was it read in inches?"),
    (10.0, "is 10 times its target: a decimal slip?"),
    (0.1, "is a tenth of its target: a decimal slip?"),
)


def slips(values: ArrayLike, targets: ArrayLike) -> NDArray[np.int8]:
    """For each value the slip it looks like, as a place in `SLIPS`, or -1.

    values, targets: shape [n] in one unit; a target of NaN or 0 gives -1. A value well over its target is no
    slip: stock is cut oversize.
    """
    value, target = np.broadcast_arrays(np.asarray(values, float), np.asarray(targets, float))
    found = np.full(value.shape, -1, np.int8)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = value / target
    for place, (factor, _) in enumerate(SLIPS):
        found[np.abs(ratio / factor - 1) <= WITHIN] = place
    return found


def doubt(value: float, target: float | None, named: str = "its target") -> str:
    """Why one value is doubted, in words that go on after it, or "" where it is not.

    value, target: in one unit; `named` says what the target is.
    """
    if target is None:
        return ""
    place = int(slips([value], [target])[0])
    return SLIPS[place][1].replace("its target", named) if place >= 0 else ""
