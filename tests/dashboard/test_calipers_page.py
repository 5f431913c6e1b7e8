"""The Calipers pages: what is told of an instrument, and what a typed check becomes."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from dashboard.pages import caliper_check, caliper_study, calipers
from qa.calipers.check import keep_check
from qa.errors import ShopError


def as_json(component) -> str:
    return json.dumps(
        component.to_plotly_json(), default=lambda item: item.to_plotly_json(), ensure_ascii=False
    )


def check(desk, *pairs, **options):
    """Keeps a check of CAL-1."""
    numbers = [(Decimal(a), Decimal(b)) for a, b in pairs]
    return keep_check(desk.store(), desk.shop().instrument("CAL-1"), numbers, **options)


def test_an_instrument_never_checked_says_so_and_what_it_can_prove(full_desk):
    """Six standard deviations of 0.010 are 30 % of ± 0.10."""
    text = as_json(calipers.content(full_desk, {}))

    assert "never checked" in text
    assert "Every instrument may be believed." in text
    assert "a tolerance of ± 0.10 mm or wider" in text


def test_a_failed_check_names_the_verdicts_that_would_change(full_desk):
    """TG-6's brace reads 8.21; with 0.06 taken off it is 8.15, on the limit."""
    check(full_desk, ("25", "25.06"))
    text = as_json(calipers.content(full_desk, {}))

    assert "Not to be judged by before a check: CAL-1 (failed)." in text
    assert "throws doubt on readings" in text
    assert "were taken with it since the beginning: it has no good check" in text
    assert "brace width middle" in text
    assert "8.15 mm" in text
    assert "No reading was rewritten." in text


def test_doubt_stays_told_after_the_instrument_is_good_again(full_desk):
    """Set right since, the readings before are what they were."""
    check(full_desk, ("25", "25.06"))
    check(full_desk, ("0", "0.00"), ("25", "25.00"), adjusted=True)
    text = as_json(calipers.content(full_desk, {}))

    assert "may be believed" in text
    assert "throws doubt on readings" in text


def test_a_check_is_kept_as_typed_by_the_same_function_as_the_command(full_desk):
    """A decimal comma, inches and a line left blank."""
    lines = [(0, "0", "0"), (1, "25", "25,01"), (2, "1 in", "25.41"), (3, "", "")]
    asked = {"instrument": "CAL-1", "token": "x"}
    text = as_json(caliper_check._keep(full_desk, asked, lines, ("adjusted", " set ", "K"), None))
    kept = full_desk.store().events("check")

    assert "CAL-1 is good." in text
    assert "No failed check as found was kept before this" in text
    assert [(e.body["reference"], e.body["reading"]) for e in kept] == [
        ("0", "0"),
        ("25", "25.01"),
        ("25.4", "25.41"),
    ]
    assert {(e.body["state"], e.text, e.by) for e in kept} == {("after adjustment", "set", "K")}


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        ([(0, "0", ""), (1, "", "")], "Nothing was typed"),
        ([(1, "25", "")], "known size 1: give both"),
        ([(0, "0", "zero")], "closed jaws: "),
    ],
)
def test_what_cannot_be_a_check_is_told_with_its_line(lines, why):
    """And nothing is kept."""
    with pytest.raises(ShopError, match=why):
        caliper_check._pairs(lines, "mm")


def test_the_form_asks_for_the_instrument_of_the_address(full_desk):
    """One nobody knows is refused."""
    assert '"CAL-1"' in as_json(caliper_check.content(full_desk, {"instrument": "CAL-1"}))
    with pytest.raises(ShopError, match="CAL-1"):
        caliper_check.content(full_desk, {"instrument": "CAL-9"})


def test_a_typed_study_is_told_and_kept(full_desk):
    """0.010 of scatter: the sentences of the command."""
    made = caliper_study._analysed("2.50 2.52 2.51", 0.25, "CAL-1")
    text = as_json(caliper_study._keep(full_desk, made, 0.25, "CAL-1", "K"))

    assert "CAL-1 repeats to 0.02 mm on this material" in text
    assert "Kept for CAL-1" in text
    assert "by its study of" in as_json(calipers.content(full_desk, {}))
    with pytest.raises(ShopError, match="above 0"):
        caliper_study._analysed("2.50 2.52", 0.0, "CAL-1")
