"""What to take off, in numbers and in words."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qa.calipers.bias import bias
from qa.gate.advice import advise
from qa.gate.advice_words import say, shavings
from qa.instruments import Instrument, Stretch
from qa.judge import judge_part
from qa.plans.plan import read_plan
from qa.record import BenchReading
from qa.wording import listed

PLAN = """
model = "m"
[parts.block.characteristics.thickness]
kind = "thickness"
target = 18.0
tolerance = 0.15
stations = { bottom-left = [0, 0], bottom-right = [60, 0], top-left = [0, 90], top-right = [60, 90] }
[parts.block.characteristics.taper]
kind = "taper"
of = "thickness"
limit = 0.10
[parts.block.characteristics.twist]
kind = "twist"
of = "thickness"
limit = 0.12
[parts.block.characteristics.width]
kind = "width"
lower = 60.0
stations = { top = [30, 90] }
"""
PART = read_plan(PLAN, "m.toml").part("block")
NAMES = ("bottom-left", "bottom-right", "top-left", "top-right")
INSTRUMENT = Instrument("CAL-1")


def rows(*passes, width=None, minute=0):
    """Readings of the thickness, pass after pass."""
    found = []
    for sizes in passes:
        for name, size in zip(NAMES, sizes, strict=True):
            if size is not None:
                found.append(row("thickness", name, size, minute + len(found)))
    return found + ([row("width", "top", width, minute + len(found))] if width else [])


def row(characteristic, station, size, minute):
    at = f"2026-01-05T{10 + minute // 60}:{minute % 60:02}:00.000000Z"
    return BenchReading(at, "B", "block", characteristic, station, round(size * 1e6), instrument="CAL-1",
                        sequence=minute + 1)  # fmt: skip


def test_nothing_is_taken_off_by_what_an_instrument_found_off_has_read():
    """Wood is not put back: a caliper 0.3 mm high would have a good part planed to ruin."""
    off = Stretch("9999", off=bias([18.0], [18.3], 0.01, [0.0]), why="CAL-1 read 0.3 mm too high")
    instrument = Instrument("CAL-1", history=(off,))
    (found, *_) = advise(PART, rows([18.30, 18.31, 18.32, 18.31]), lambda name: instrument)
    assert (found.feasible, found.lost, found.done, dict(found.take_off)) == (False, False, False, {})
    assert say(found, "mm") == (
        "Measure again and take nothing off: thickness was read by an instrument found off since: CAL-1 read "
        "0.3 mm too high."
    )


def test_nothing_is_taken_off_while_a_doubted_reading_waits():
    """It is the newest word on its place."""
    held = replace(row("thickness", "top-left", 180.2, 30), held=True, suspect="is 10 times its target?")
    (found, *_) = advise(PART, [*rows([18.30, 18.31, 18.32, 18.31]), held], lambda name: INSTRUMENT)
    assert (found.feasible, found.lost, dict(found.take_off)) == (False, False, {})
    assert say(found, "mm") == (
        "Measure again and take nothing off: thickness top-left: 180.20 mm is 10 times its target? Kept but "
        "not counted: read the place again, or accept it."
    )


def of(*passes, planed_at="", **more):
    found = advise(PART, rows(*passes, **more), lambda name: INSTRUMENT, planed_at)
    return found[0]


def test_take_off_brings_every_station_inside_with_room_for_the_uncertainty():
    """As advised, and read again, the part conforms."""
    sizes = (18.02, 18.10, 18.45, 18.05)
    advice = of(sizes)
    assert advice.feasible
    done = [size - advice.take_off[name] for name, size in zip(NAMES, sizes, strict=True)]
    assert advice.aim == pytest.approx(np.mean(done), abs=1e-5)
    judged = judge_part(PART, rows(done), lambda name: INSTRUMENT)
    assert {item.verdict for item in judged.characteristics if item.value is not None} == {"conforms"}


@settings(deadline=None)
@given(st.lists(st.floats(17.9, 18.8), min_size=4, max_size=4))
def test_planing_as_advised_makes_a_part_fit(sizes):
    """Whenever advice says that the part can be saved, doing it saves the part."""
    sizes = [round(size, 2) for size in sizes]
    advice = of(sizes)
    if not advice.feasible:
        return
    done = [size - advice.take_off[name] for name, size in zip(NAMES, sizes, strict=True)]
    judged = judge_part(PART, rows(done), lambda name: INSTRUMENT)
    assert "does not conform" not in {item.verdict for item in judged.characteristics}


def test_nothing_is_taken_off_what_conforms():
    """Enough is enough."""
    advice = of((18.0, 18.01, 18.0, 18.02))
    assert advice.done
    assert set(advice.take_off.values()) == {0.0}
    assert say(advice, "mm") == "Stop: thickness conforms everywhere; take nothing off."


def test_undersize_is_said_with_what_can_be_done():
    """The station furthest below, and by how much; no removal is advised."""
    advice = of((18.0, 18.0, 17.60, 18.3))
    assert (advice.feasible, advice.lost) == (False, True)
    assert advice.short[0] == "top-left"
    assert set(advice.take_off.values()) == {0.0}
    assert say(advice, "mm").startswith(
        "Stop: thickness is undersize by 0.25 mm at top-left; planing cannot save it. Options: glue a veneer"
    )


def test_undersize_by_less_than_a_reading_can_tell():
    """One reading just under the limit condemns nothing."""
    advice = of((18.0, 18.0, 17.84, 18.0))
    assert (advice.feasible, advice.lost) == (False, False)
    assert say(advice, "mm") == (
        "Measure again and take nothing off: thickness reads 0.01 mm under its lower limit at top-left, too "
        "little for one reading to tell."
    )


def test_stations_without_a_reading_come_first():
    """No advice from half a part."""
    advice = of((18.3, 18.3, None, None))
    assert advice.missing == ("top-left", "top-right")
    assert say(advice, "mm") == "Measure first: thickness has no reading at top-left and top-right."


def test_readings_from_before_planing_advise_nothing():
    """What they said to take off may be off already."""
    advice = of((18.3, 18.3, 18.3, 18.3), planed_at="2026-01-05T11:00:00.000000Z")
    assert advice.missing == NAMES
    assert say(advice, "mm").endswith("top-left and top-right since the part was planed.")


def test_passes_are_learnt_from_the_parts_own_log():
    """Each pass took about a twentieth of a millimetre."""
    log = [(18.60, 18.60, 18.60, 18.60), (18.55, 18.55, 18.55, 18.55), (18.50, 18.49, 18.50, 18.50)]
    advice = of(*log)
    assert advice.passes.per_pass == pytest.approx(0.05, abs=0.003)
    assert 7 <= advice.passes.likely <= 9
    assert "passes by this part's own log" in say(advice, "mm")
    after_planing = of(*log, (18.45, 18.45, 18.45, 18.45), planed_at="2026-01-05T10:11:30.000000Z")
    assert after_planing.passes.logged == 3


def test_the_high_diagonal_of_a_twisted_part_is_named():
    """Two corners stand high."""
    words = say(of((18.05, 18.40, 18.42, 18.05)), "mm")
    assert "bottom-right and top-left stand high on one diagonal" in words


def test_a_size_without_an_upper_limit_needs_no_planing():
    """Never under, and as wide as it likes."""
    found = {item.characteristic: item for item in advise(PART, rows((18.0,) * 4, width=75.0),
                                                          lambda name: INSTRUMENT)}  # fmt: skip
    assert found["width"].done


def test_what_needs_work_comes_first():
    """The size that cannot be saved, then the one to plane, then the one that is done."""
    found = advise(PART, rows((18.4, 18.4, 18.4, 18.4), width=75.0), lambda name: INSTRUMENT)
    assert [item.characteristic for item in found] == ["thickness", "width"]


@pytest.mark.parametrize(
    ("deepest", "words"),
    [(0.02, "1 shaving"), (0.05, "1 to 2 shavings"), (0.25, "5 to 10 shavings"), (0.001, "1 shaving")],
)
def test_shavings(deepest, words):
    """A shaving takes 0.025 to 0.05 mm: common practice, no source."""
    assert shavings(deepest) == words


def test_lists_read_as_a_person_writes_them():
    """Commas, and the last with "and"."""
    assert [listed("a"), listed("ab"), listed("abc")] == ["a", "a and b", "a, b and c"]
    assert listed("abcd", most=3) == "a, b and 2 more"
    assert [listed("abc", most=3), listed("")] == ["a, b and c", ""]


def test_inch_shops_read_inches():
    """No millimetres in the words of an inch shop."""
    words = say(of((18.02, 18.10, 18.45, 18.05)), "in")
    assert " in at top-left" in words
    assert " mm" not in words
