"""What a chart has to say about one point."""

from dataclasses import dataclass

BEYOND_LIMITS = "beyond the limits"
RANGE_BEYOND_LIMIT = "moving range beyond its limit"
HIGH_SUM_BEYOND_LIMIT = "high sum beyond its limit"
LOW_SUM_BEYOND_LIMIT = "low sum beyond its limit"


@dataclass(frozen=True, slots=True)
class Signal:
    """The point at `index` (from 0) completes the pattern that `rule` says in plain words."""

    index: int
    rule: str
