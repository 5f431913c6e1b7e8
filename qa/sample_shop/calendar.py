"""When and where the invented shop worked: nine batches of four, two benches, the room's climate."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone

BUILDS = 36
BATCH_SIZE = 4
DAYS_TO_GLUE = 21
SHOP_TIME = timezone(timedelta(hours=1))


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch of four, one build a day: climate in per cent and degrees, as the hygrometer showed it.

    `swelling` is what 78 mm of black cherry across the rings moves between the two humidities at 21 °C,
    with 1 % taken off the hygrometer: equilibrium moisture by equation 4-5 and coefficient 0.00248 of the
    Wood Handbook (USDA Forest Products Laboratory), equilibrium assumed at both.
    """

    first_day: date
    rh_cut: int
    rh_glue: int
    temp_c: float
    swelling: float


BATCHES = (
    Batch(date(2024, 2, 5), 41, 42, 19.5, 0.03),
    Batch(date(2024, 4, 8), 44, 45, 20.0, 0.03),
    Batch(date(2024, 7, 1), 57, 61, 24.0, 0.14),
    Batch(date(2024, 10, 7), 46, 45, 20.0, -0.03),
    Batch(date(2025, 1, 6), 36, 33, 18.5, -0.09),
    Batch(date(2025, 3, 3), 42, 43, 19.5, 0.03),
    Batch(date(2025, 6, 2), 48, 47, 22.5, -0.03),
    Batch(date(2025, 8, 4), 47, 48, 24.0, 0.03),
    Batch(date(2025, 11, 3), 43, 42, 20.0, -0.03),
)


@dataclass(frozen=True, slots=True)
class Wait:
    """A glue-up put off: days waited, humidity then, and the width's change since it was cut, in mm."""

    days: int
    rh: int
    since_cut: float
    note: str


WAITS = {
    12: Wait(10, 49, -0.25, "before glue, after ten days of drier weather"),
    **{n: Wait(9, 41, 0.14, "before glue, after nine days with a humidifier") for n in range(17, 21)},
}


def label(build: int) -> str:
    """Name a build by its number."""
    return f"OM-{build:02d}"


def batch_of(build: int) -> Batch:
    """Give the batch a build, numbered from 1, belongs to."""
    return BATCHES[(build - 1) // BATCH_SIZE]


def bench_of(build: int) -> str:
    """Give the bench: odd builds North, even builds South."""
    return "North" if build % 2 else "South"


def caliper_of(build: int) -> str:
    """Give the caliper of the build's bench."""
    return "CAL-1" if build % 2 else "CAL-2"


def cut_day(build: int) -> date:
    """Give the day a build's parts were cut, thicknessed and read."""
    return batch_of(build).first_day + timedelta(days=(build - 1) % BATCH_SIZE)


def glue_day(build: int) -> date:
    """Give the day its tail block was read again to be glued."""
    return cut_day(build) + timedelta(days=DAYS_TO_GLUE)


def at(day: date, hour: int, minute: int = 0) -> datetime:
    """Give a moment of the shop's clock, which keeps one hour ahead of UTC all year."""
    return datetime.combine(day, time(hour, minute), tzinfo=SHOP_TIME)
