"""A log's readings lie within what their instruments can read."""

from dataclasses import replace

import pytest

from qa.instruments import Instrument
from qa.logs.loading import load

BLOCK = "2025-03-01T10:00:00Z,PG-01,tail-block,thickness"


@pytest.fixture
def with_ranges(shop):
    """The small shop, whose caliper opens to 150 mm and whose meter reads 6 to 30 %."""
    caliper = Instrument("CAL-1", span=(0, 150))
    meter = Instrument("METER", quantity="percent", span=(6, 30))
    return replace(shop, instruments={"CAL-1": caliper, "METER": meter})


def test_a_reading_beyond_its_instrument_is_refused_with_its_row(with_ranges, sqlite_store, log):
    """Whatever its unit is written in; one of another instrument, or of another quantity, is let be."""
    found = load(
        [
            log(
                f"{BLOCK},top-left,18.02,mm,CAL-1",
                f"{BLOCK},top-right,151,mm,CAL-1",
                f"{BLOCK},bottom-left,6.1,in,CAL-1",
                f"{BLOCK},bottom-right,151,mm,CAL-9",
                "2025-03-01T10:00:00Z,PG-01,side,moisture,,5.5,%,METER",
                "2025-03-01T10:00:01Z,PG-01,side,moisture,,8,%,CAL-1",
            )
        ],
        with_ranges,
        sqlite_store,
    )
    assert [(problem.row, problem.column, problem.value) for problem in found.problems] == [
        (3, "value", "151"), (4, "value", "6.1"), (6, "value", "5.5"),
    ]  # fmt: skip
    assert "is outside what CAL-1 can read, 0 to 150 mm" in found.problems[0].why
    assert (found.rejected, found.loaded, sqlite_store.readings()) == (3, 0, [])
