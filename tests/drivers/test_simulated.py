"""The make-believe caliper: the same story for the same seed, and honest trouble on request."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from drivers.errors import DriverError, LineError
from drivers.frames import BadRecord, Decoder, Reading, load_profile
from drivers.serial_line import open_line
from drivers.simulated import SimulatedCaliper

TEXT = load_profile("text-line")


def story(presses=60, **trouble):
    """What was shown, and everything the line said about it."""
    with SimulatedCaliper(TEXT, **trouble) as caliper, open_line(caliper.url, TEXT) as line:
        next(line.events())
        shown = [caliper.press(20 + n / 10) for n in range(presses)]
        return shown, list(line.events(timeout=0.2))


def test_the_same_seed_tells_the_same_story():
    """Noise is repeatable, and another seed gives another story."""
    first, second, other = (story(20, noise=0.05, seed=seed)[0] for seed in (1, 1, 2))
    assert first == second != other
    assert first != [Decimal(20) + Decimal(n) / 10 for n in range(20)]


def test_without_trouble_every_reading_arrives_once():
    """By default the caliper is perfect."""
    shown, events = story()
    assert [event.value for event in events] == shown


def test_doubled_readings_on_request():
    """Doubles are the same value twice, all others once."""
    shown, events = story(doubles=0.3, seed=3)
    values = [event.value for event in events]
    assert len(values) > len(shown)
    assert list(dict.fromkeys(values)) == shown
    assert all(values.count(value) in (1, 2) for value in shown)


@pytest.mark.parametrize("trouble", ["dropouts", "flips"])
def test_damage_on_request(trouble):
    """Cut and damaged records are missing or become bad records, and none of them another reading."""
    profile = load_profile("binary-24")
    damaged = SimulatedCaliper(profile, seed=4, **{trouble: 0.3})
    with damaged as caliper, open_line(caliper.url, profile) as line:
        next(line.events())
        shown = [caliper.press(20 + n / 10) for n in range(60)]
        events = list(line.events(timeout=0.2))
    values = [event.value for event in events if isinstance(event, Reading)]
    assert 30 <= len(values) <= 54
    assert sum(isinstance(event, BadRecord) for event in events) >= 6
    rest = iter(shown)
    assert all(value in rest for value in values)


def test_the_unit_button_changes_what_is_sent():
    """The same size in inches, rounded to the inch step."""
    with SimulatedCaliper(TEXT) as caliper, open_line(caliper.url, TEXT) as line:
        next(line.events())
        caliper.switch("in")
        assert caliper.press("31.75") == Decimal("1.2500")
        reading = next(line.events())
        assert (reading.unit, reading.nanometres) == ("in", 31_750_000)
        with pytest.raises(DriverError, match="sends no deg"):
            caliper.switch("deg")


def test_refuses_what_no_caliper_shows():
    """Values that are not finite or beyond the profile's limits are refused."""
    with SimulatedCaliper(TEXT) as caliper:
        for value in (float("nan"), float("inf"), 100_000):
            with pytest.raises(DriverError):
                caliper.press(value)


def test_an_unplugged_caliper_says_so():
    """Pressing the button of an unplugged caliper is an error, and plugging in twice is none."""
    with SimulatedCaliper(TEXT) as caliper:
        caliper.plug()
        caliper.unplug()
        caliper.unplug()
        with pytest.raises(LineError, match="unplugged"):
            caliper.press(1)
        caliper.plug()
        caliper.press(1)


def test_a_record_is_what_the_decoder_reads():
    """What is written on the pseudo-terminal is what the profile says."""
    with SimulatedCaliper(TEXT) as caliper, Path(caliper.url).open("rb", buffering=0) as line:
        caliper.press(25.4)
        (reading,) = Decoder(TEXT).feed(line.read(64))
    assert str(reading.value) == "25.40"
