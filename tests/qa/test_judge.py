"""From readings to verdicts: what counts, with how much doubt, and what that says of the part."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qa.conformity import Verdict, conformance_probability, decide
from qa.errors import CannotSay
from qa.instruments import TYPED, Instrument, budget, suited
from qa.judge import judge_build, judge_part, latest_by_station
from qa.plans.plan import read_plan
from qa.record import standing

STATIONS = ("bottom-left", "bottom-right", "top-left", "top-right")
CAL = Instrument("CAL-1", resolution=0.01, max_permissible_error=0.03, repeatability=0.01)


def of(name):
    """The shop's instruments: one caliper; anything else is not described."""
    return CAL if name == "CAL-1" else TYPED


@pytest.fixture
def block(plan):
    """The planned tail block."""
    return plan.part("tail-block")


@pytest.fixture
def judged(block, reading):
    """Judges the tail block with these four thicknesses; None leaves a station out."""

    def judge(*values, **fields):
        rows = [
            replace(reading(n, value, **fields), sequence=n + 1)
            for n, value in enumerate(values)
            if value is not None
        ]
        return judge_part(block, rows, of)

    return judge


def sizes(part):
    """The verdict at each station of the thickness."""
    return {item.station: str(item.verdict) for item in part.characteristics if item.kind == "thickness"}


def the(part, name):
    """The one verdict on a derived characteristic."""
    return next(item for item in part.characteristics if item.characteristic == name)


def test_a_part_that_nothing_is_read_of_is_not_fit(block):
    """No verdict at all is none that conforms."""
    found = judge_part(replace(block, characteristics={}), [], of)
    assert (found.fit, found.verdict) == (False, Verdict.NOT_MEASURED)


def test_each_verdict(judged):
    """Inside, outside, too near a limit to tell, and not measured."""
    found = sizes(judged(18.0, 18.4, 18.14, None))
    assert found == dict(
        zip(STATIONS, ("conforms", "does not conform", "undecided", "not measured"), strict=True)
    )


def test_the_uncertainty_of_a_reading_is_its_budget(judged):
    """Display step, repeatability and permissible error, the first and last rectangular (JCGM 100, 4.3.7)."""
    step, error, repeat = 0.01 / math.sqrt(12), 0.03 / math.sqrt(3), 0.01
    item = judged(18.0).characteristics[0]
    assert item.standard_uncertainty == pytest.approx(math.sqrt(step**2 + error**2 + repeat**2), rel=1e-12)
    assert (item.target, item.lower, item.upper, item.unit) == (18.0, 17.85, 18.15, "mm")
    u = item.standard_uncertainty
    assert item.conformance_probability == conformance_probability(18.0, u, 17.85, 18.15)
    assert item.verdict == decide(18.0, u, 17.85, 18.15)


def test_what_the_readings_share_cancels_in_a_difference(judged):
    """The permissible error is common to all readings of one caliper: the taper does not have it."""
    item = the(judged(18.0, 18.02, 18.05, 18.05), "taper")
    own = math.sqrt(0.01**2 / 12 + 0.01**2)
    assert item.value == pytest.approx(0.04)
    assert item.standard_uncertainty == pytest.approx(own, rel=1e-12)
    assert item.station is None


@pytest.mark.parametrize("names", [("CAL-1", "OLD-1"), ("OLD-1", "OLD-2"), ("", "OLD-1")])
def test_errors_of_two_instruments_do_not_cancel_described_or_not(block, reading, names):
    """A taper of one caliper's end less another's has both their permissible errors in it."""
    rows = [replace(reading(n, 18.0, instrument=names[n // 2]), sequence=n + 1) for n in range(4)]
    own = math.hypot(0.01 / math.sqrt(12), 0.01)
    each = 0.03 / math.sqrt(3)
    found = the(judge_part(block, rows, of), "taper")
    assert found.standard_uncertainty == pytest.approx(math.hypot(own, each, each))


def test_a_derived_characteristic_waits_for_all_its_readings(judged):
    """Until then it is not measured, and the part is not fit."""
    part = judged(18.0, 18.0, 18.0, None)
    assert the(part, "taper").verdict == Verdict.NOT_MEASURED
    assert not part.fit
    assert part.verdict == Verdict.NOT_MEASURED


def test_the_latest_reading_that_stands_counts(block, reading):
    """Later supersedes earlier; held, withdrawn and corrected rows do not count."""
    rows = [
        replace(reading(0, 18.4), sequence=1),
        replace(reading(4, 18.0), sequence=2),
        replace(reading(8, 180.0, held=True), sequence=3),
        replace(reading(12, 17.0), sequence=4),
        replace(reading(16, 0, corrects=4), millionths=None, sequence=5),
    ]
    part = judge_part(block, rows, of)
    assert sizes(part)["bottom-left"] == "conforms"
    assert part.characteristics[0].value == 18.0


def test_a_part_is_fit_only_when_all_of_it_conforms(block, reading):
    """Every station, every derived characteristic, and what is read once."""
    square = replace(reading(9, 0.02), characteristic="squareness", station="", sequence=9)
    rows = [replace(reading(n, 18.0), sequence=n + 1) for n in range(4)]
    assert judge_part(block, [*rows, square], of).fit
    assert judge_part(block, [*rows, square], of).verdict == Verdict.CONFORMS
    assert not judge_part(block, rows, of).fit
    assert not judge_part(block, [*rows, replace(square, millionths=900_000)], of).fit


def test_the_worst_verdict_is_the_parts(judged):
    """What does not conform is worse than what is not measured, and that than what is undecided."""
    assert judged(18.4, 18.14).verdict == Verdict.DOES_NOT_CONFORM
    assert judged(18.14).verdict == Verdict.NOT_MEASURED


def test_every_part_of_a_build_is_judged(plan, reading):
    """Readings of another part do not count; parts without readings are not measured."""
    build = judge_build("PG-01", plan, [reading(0, 18.0)], of)
    assert [part.part for part in build.parts] == ["tail-block", "side"]
    assert build.plan == plan.digest
    assert build.parts[1].verdict == Verdict.NOT_MEASURED
    assert not build.fit


def test_readings_the_plan_no_longer_knows_are_left_alone(block, reading):
    """A station or characteristic of an older revision judges nothing and breaks nothing."""
    rows = [reading(0, 18.0), reading(1, 18.0, station="middle"), reading(2, 1.0, characteristic="width")]
    assert judge_part(block, rows, of).characteristics[0].verdict == Verdict.CONFORMS


def test_a_reading_by_an_instrument_of_another_quantity(plan, reading):
    """It cannot say; the reason is told."""
    angle = Instrument("CAL-1", quantity="angle")
    part = judge_part(plan.part("tail-block"), [reading(0, 18.0)], lambda name: angle)
    assert part.characteristics[0].verdict == Verdict.UNDECIDED
    assert "measures angle" in part.characteristics[0].why


def test_instruments_that_are_not_described():
    """A reading that names none is judged as by the commonest; one of another quantity is refused."""
    assert suited(TYPED, "mm") is TYPED
    assert suited(TYPED, "%").quantity == "percent"
    assert suited(TYPED, "deg").quantity == "angle"
    with pytest.raises(CannotSay, match="measures length in mm, not %"):
        suited(CAL, "%")


def test_soft_wood_between_the_jaws_adds_its_own_doubt():
    """A share common to the readings of one part, on top of the caliper's."""
    plain, soft = budget(CAL), budget(CAL, "spanish cedar", 0.05)
    assert soft.own == plain.own
    (extra,) = set(soft.shared) - set(plain.shared)
    assert "spanish cedar" in extra
    assert soft.shared[extra].u == pytest.approx(0.05 / math.sqrt(3))


PLAN = read_plan(
    'model = "m"\n[parts.p.characteristics.t]\nkind = "thickness"\ntarget = 18.0\ntolerance = 0.15\n'
    "stations = { a = [0, 0], b = [0, 90] }\n"
    '[parts.p.characteristics.taper]\nkind = "taper"\nof = "t"\nlimit = 0.1\n',
    "m.toml",
)


@given(
    st.lists(st.tuples(st.sampled_from("ab"), st.integers(17_000_000, 19_000_000)), max_size=6), st.randoms()
)
def test_the_order_rows_come_in_makes_no_difference(rows, chance):
    """Verdicts follow the clock and the store's order, not the order of a list."""
    from qa.record import BenchReading

    made = [
        BenchReading(f"2025-03-01T09:00:{n:02d}.000000Z", "B", "p", "t", station, amount, sequence=n + 1)
        for n, (station, amount) in enumerate(rows)
    ]
    first = judge_part(PLAN.parts["p"], made, of)
    chance.shuffle(made)
    assert judge_part(PLAN.parts["p"], made, of) == first
    latest = latest_by_station(standing(made))
    for item in first.characteristics:
        if item.kind == "thickness":
            wanted = latest.get(("t", item.station))
            assert item.value == (wanted.value if wanted else None)
            assert (item.verdict == Verdict.NOT_MEASURED) == (wanted is None)
        if item.value is not None:
            assert 0 <= item.conformance_probability <= 1
