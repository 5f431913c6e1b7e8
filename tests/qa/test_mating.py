"""Whether two sizes that meet will fit."""

import pytest

from qa.conformity import Verdict
from qa.errors import CannotSay
from qa.gate.mating import fit
from qa.gate.words import mate as mate_words
from qa.instruments import TYPED, Instrument
from qa.plans.mate_words import say_mate
from qa.plans.plan import read_plan
from qa.record import BenchReading

PLAN = """
model = "m"
[parts.nut.characteristics.thickness]
kind = "thickness"
target = 5.0
tolerance = 0.1
stations = { left = [0, 0], right = [40, 0] }
[parts.nut.mates.slot]
size = "thickness"
mate = "neck.slot"
gap_lower = 0.0
gap_upper = 0.10
[parts.neck.characteristics.slot]
kind = "width"
target = 5.05
tolerance = 0.1
stations = { left = [0, 0], right = [40, 0] }
"""
CALIPERS = {
    name: Instrument(name, max_permissible_error=0.03, repeatability=0.004, resolution=0.01)
    for name in ("one", "other")
}
CALIPERS["meter"] = Instrument("meter", quantity="percent")
CALIPERS |= dict.fromkeys(("old", "older"), TYPED)  # not described in shop.toml


def judged(nut, neck, nut_by="one", neck_by="one", plan=PLAN, names=("left", "right")):
    read = read_plan(plan, "m.toml")
    latest = {
        part: {
            (name, station): BenchReading("2026-01-05T10:00:00.000000Z", "B", part, name, station,
                                          round(value * 1e6), instrument=by)
            for station, value in zip(at, values, strict=False)
        }
        for part, name, values, by, at in (
            ("nut", "thickness", nut, nut_by, names), ("neck", "slot", neck, neck_by, ("left", "right")),
        )
    }  # fmt: skip
    part = read.part("nut")
    return fit(part, part.mates[0], read.parts, latest, CALIPERS.__getitem__)


def test_the_gap_is_the_other_size_less_this_one():
    """Means of both, and the worst of the stations by the expanded uncertainty further out."""
    found = judged((5.00, 5.01), (5.05, 5.07))
    assert found.gap == pytest.approx(0.055)
    reach = 1.959964 * found.uncertainty.u
    assert found.worst == pytest.approx((0.05 - 2**0.5 * reach, 0.06 + 2**0.5 * reach))
    assert found.verdict == Verdict.CONFORMS


def test_a_taper_that_makes_one_end_tight():
    """The means fit, the left end does not, and is named; stations of other names leave only the means."""
    found = judged((5.08, 4.98), (5.05, 5.05))
    assert (round(found.gap, 6), found.verdict) == (0.02, Verdict.DOES_NOT_CONFORM)
    assert (found.station.station, round(found.station.size, 6)) == ("left", -0.03)
    assert "+0.02 mm, -0.03 mm at left (" in mate_words(found, "mm")
    renamed = PLAN.replace("stations = { left", "stations = { near", 1)
    means = judged((5.11, 4.99), (5.05, 5.05), plan=renamed, names=("near", "right"))
    assert (round(means.gap, 6), means.station, means.by_means) == (0.0, None, True)
    assert mate_words(means, "mm").endswith("undecided, judged by the mean of each size, as their stations "
                                            "have not the same names.")  # fmt: skip


def test_the_plan_says_where_a_gap_is_judged():
    """At each station, by means, or nothing where each size is read once."""
    other = PLAN.replace("stations = { left", "stations = { near", 1)
    once = PLAN.replace(", right = [40, 0]", "").replace("{ left", "{ near", 1)
    said = []
    for text in (PLAN, other, once):
        plan = read_plan(text, "m.toml")
        said.append(say_mate(plan.part("nut").mates[0], plan.part("nut"), plan.parts, "mm")[61:78])
    assert said == [", at each station", ", by the mean of ", ""]


@pytest.mark.parametrize(
    ("neck", "verdict"),
    [
        ((4.90, 4.92), Verdict.DOES_NOT_CONFORM),
        ((5.30, 5.30), Verdict.DOES_NOT_CONFORM),
        ((5.00, 5.01), Verdict.UNDECIDED),
    ],
)
def test_too_tight_too_loose_and_too_near_to_tell(neck, verdict):
    """The three other answers."""
    assert judged((5.00, 5.00), neck).verdict == verdict


def test_what_one_caliper_does_to_both_sizes_cancels():
    """Two calipers leave the gap more in doubt than one."""
    one, two = judged((5.0, 5.0), (5.05, 5.05)), judged((5.0, 5.0), (5.05, 5.05), neck_by="other")
    own = (0.004**2 + 0.01**2 / 12) ** 0.5
    assert one.uncertainty.u == pytest.approx(own)
    assert two.uncertainty.u == pytest.approx((own**2 + 2 * 0.03**2 / 3) ** 0.5)


def test_what_two_calipers_do_does_not_cancel_described_or_not():
    """Nobody knows whether two that shop.toml does not describe err alike."""
    same, apart = (judged((5.0, 5.0), (5.05, 5.05), "old", by).uncertainty.u for by in ("old", "older"))
    assert apart == pytest.approx((same**2 + 2 * (0.03**2 / 3)) ** 0.5)


def test_a_side_not_wholly_read_is_not_measured():
    """One station missing."""
    assert judged((5.0,), (5.05, 5.05)).verdict == Verdict.NOT_MEASURED


def test_two_sizes_of_one_part_may_be_mates():
    """Stations of the same name in both are kept apart."""
    inner = PLAN.replace('mate = "neck.slot"', 'mate = "nut.slot"').replace("[parts.neck.", "[parts.nut.")
    read = read_plan(inner, "m.toml")
    part = read.part("nut")
    rows = {}
    for name, value in (("thickness", 5.0), ("slot", 5.06)):
        for station in ("left", "right"):
            rows[name, station] = BenchReading("2026-01-05T10:00:00.000000Z", "B", "nut", name, station,
                                               round(value * 1e6), instrument="one")  # fmt: skip
    found = fit(part, part.mates[0], read.parts, {"nut": rows}, CALIPERS.__getitem__)
    assert found.gap == pytest.approx(0.06)
    assert found.uncertainty.u == pytest.approx((0.004**2 + 0.01**2 / 12) ** 0.5)


def test_a_size_read_by_a_moisture_meter_is_refused():
    """It measures no lengths."""
    with pytest.raises(CannotSay, match="measures percent"):
        judged((5.0, 5.0), (5.05, 5.05), neck_by="meter")
