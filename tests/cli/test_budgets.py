"""`dryfit check --budget`: what makes each value uncertain."""

import math

import pytest


@pytest.fixture
def checked(dryfit, log, good_row):
    """The small shop with one build's tail block half read."""
    assert dryfit("load", log(*(good_row(number) for number in range(4)))).status == 0
    return dryfit


def test_the_budget_of_a_size(checked):
    """Largest first: permissible error, repeatability, display step (JCGM 100:2008 4.3.7 and F.2.2.1)."""
    document = checked("check", "PG-01", "tail-block", "--budget", "--json").json
    values = document["builds"][0]["parts"][0]["characteristics"]
    (size,) = [item for item in values if item["station"] == "top-left"]
    parts = [line["part"] for line in size["budget"]]
    assert parts == pytest.approx([0.03 / 3**0.5, 0.01, 0.01 / 12**0.5], abs=1e-6)
    assert parts == sorted(parts, reverse=True)
    assert size["standard_uncertainty"] == pytest.approx(math.hypot(*parts), abs=1e-6)
    assert size["expanded_uncertainty"] == pytest.approx(1.959964 * math.hypot(*parts), abs=1e-5)
    assert (size["effective_dof"], size["confidence"]) == (None, 0.95)
    assert set(size["budget"][0]) == {"name", "u", "sensitivity", "part", "dof"}


def test_what_is_not_measured_has_no_budget(checked):
    """Null, not an empty list."""
    document = checked("check", "PG-01", "tail-block", "--budget", "--json").json
    values = document["builds"][0]["parts"][0]["characteristics"]
    assert [item["budget"] for item in values if item["verdict"] == "not measured"] == [None]


def test_no_budget_unless_asked_for(checked):
    """The verdicts stay short."""
    document = checked("check", "PG-01", "tail-block", "--json").json
    assert "budget" not in document["builds"][0]["parts"][0]["characteristics"][0]


def test_the_printed_budget(checked):
    """One table each, the sum below, the expanded uncertainty with its factor."""
    said = checked("check", "PG-01", "tail-block", "--budget").out
    assert "thickness top-left 18.02 mm" in said
    assert "expanded at 95%: k 1.96, U 0.0396 mm" in said
    table = said[said.index("taper 0.00 mm") :].splitlines()
    assert table[1].split() == ["contribution", "u", "(mm)", "sensitivity", "adds", "(mm)", "degrees", "of",
                                "freedom"]  # fmt: skip
    assert "permissible error of CAL-1" in table[-3]
    assert table[-2].split()[:2] == ["combined", "0.0104"]


def test_the_confidence_of_the_plan(checked, folder):
    """Of a characteristic judged at 99 % the expanded uncertainty is at 99 %."""
    plan = folder / "plans" / "parlour-guitar.toml"
    text = plan.read_text(encoding="utf-8").replace("tolerance = 0.15", "tolerance = 0.15\nconfidence = 0.99")
    plan.write_text(text, encoding="utf-8")
    assert "expanded at 99%: k 2.58" in checked("check", "PG-01", "tail-block", "--budget").out
