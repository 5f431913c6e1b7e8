"""One invented part, planned in TOML and read in numbers, for the tests of every kind."""

from collections.abc import Callable, Mapping

import pytest

from qa.errors import PlanError
from qa.instruments import Instrument
from qa.judge import Judged, judge_part
from qa.plans.plan import Part, read_plan
from qa.record import BenchReading

SHOP = {
    "caliper": Instrument("caliper"),
    "other": Instrument("other"),
    "meter": Instrument("meter", quantity="percent", max_permissible_error=2.0),
}


@pytest.fixture
def plan() -> Callable[..., Part]:
    """Reads a plan of one part."""
    return read_part


def read_part(tables: Mapping[str, str], part: str = "", unit: str = "mm") -> Part:
    """The part "block" with the tables given by name, each as the lines of TOML below its header."""
    text = f'model = "m"\nunit = "{unit}"\n[parts.block]\n{part}\n'
    for name, lines in tables.items():
        text += f"[parts.block.characteristics.{name}]\n{lines}\n"
    return read_plan(text, "m.toml").part("block")


@pytest.fixture
def problems() -> Callable[..., list[str]]:
    """Says what is wrong with a plan, as "key: why", the key below the part's characteristics."""

    def tell(tables: Mapping[str, str], part: str = "") -> list[str]:
        try:
            read_part(tables, part)
        except PlanError as error:
            prefix = "parts.block.characteristics."
            return [f"{item.key.removeprefix(prefix)}: {item.why}" for item in error.problems]
        return []

    return tell


@pytest.fixture
def judge() -> Callable[..., dict[tuple[str, str | None], Judged]]:
    """Judges the readings of a part; returns the verdicts by (characteristic, station)."""

    def verdicts(
        tables: Mapping[str, str],
        readings: Mapping[str, Mapping[str, float]],
        instrument: Callable[[str], str] = lambda station: "caliper",
        part: str = "",
    ) -> dict[tuple[str, str | None], Judged]:
        planned = read_part(tables, part)
        rows = [
            BenchReading(
                "2026-01-01T00:00:00.000000Z",
                "B-1",
                "block",
                characteristic,
                station,
                round(value * 1_000_000),
                planned.characteristics[characteristic].unit,
                instrument=instrument(station),
            )
            for characteristic, of_station in readings.items()
            for station, value in of_station.items()
        ]
        found = judge_part(planned, rows, lambda name: SHOP.get(name or "", Instrument("")))
        return {(item.characteristic, item.station): item for item in found.characteristics}

    return verdicts
