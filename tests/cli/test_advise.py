"""`dryfit advise`: its contract, and its exit status."""

import datetime as dt

import pytest

STATIONS = ("bottom-left", "bottom-right", "top-left", "top-right")


@pytest.fixture
def read(dryfit, log):
    """Loads readings of the tail block's thickness, in the order of the stations."""

    def load(*sizes):
        now = dt.datetime.now(dt.UTC) - dt.timedelta(minutes=10)
        rows = [
            f"{(now + dt.timedelta(seconds=n)).isoformat()},PG-01,tail-block,thickness,{name},{size},mm,CAL-1"
            for n, (name, size) in enumerate(zip(STATIONS, sizes, strict=False))
        ]
        assert dryfit("load", log(*rows)).status == 0

    return load


def test_the_contract(dryfit, read):
    """Every field, and the removal that is wanted."""
    read(18.02, 18.05, 18.41, 18.38)
    answer = dryfit("advise", "PG-01", "tail-block", "--json")
    assert answer.status == 0
    document = answer.json
    assert {name: document[name] for name in ("build", "part", "characteristic", "feasible", "passes")} == {
        "build": "PG-01",
        "part": "tail-block",
        "characteristic": "thickness",
        "feasible": True,
        "passes": None,
    }
    assert set(document["take_off"]) == set(STATIONS)
    assert document["take_off"]["bottom-left"] == 0.0
    assert document["take_off"]["top-left"] == pytest.approx(0.30, abs=0.02)
    assert 17.85 < document["aim"] < 18.15
    assert document["say"].startswith("Take off ")
    assert [item["characteristic"] for item in document["sizes"]] == ["thickness"]


def test_in_words(dryfit, read):
    """Where, how much, how many shavings, and the caution once."""
    read(18.02, 18.05, 18.41, 18.38)
    said = dryfit("advise", "PG-01", "tail-block").out
    assert "nothing at bottom-left and bottom-right" in said
    assert "shavings of a hand plane (common practice, no source)" in said
    assert said.count("never in the fingertips") == 1


def test_too_thin(dryfit, read):
    """Exit 1: planing cannot save it; nothing to take off and no caution."""
    read(18.02, 17.60, 18.02, 18.02)
    answer = dryfit("advise", "PG-01", "tail-block")
    assert answer.status == 1
    assert answer.out.startswith("Stop: thickness is undersize by 0.25 mm at bottom-right; planing cannot")
    assert "fingertips" not in answer.out
    document = dryfit("advise", "PG-01", "tail-block", "--json").json
    assert (document["feasible"], set(document["take_off"].values())) == (False, {0.0})


def test_half_read(dryfit, read):
    """Exit 1: measure first."""
    read(18.3, 18.3)
    answer = dryfit("advise", "PG-01", "tail-block")
    assert answer.status == 1
    assert answer.out == "Measure first: thickness has no reading at top-left and top-right.\n"


def test_already_there(dryfit, read):
    """Exit 0: stop."""
    read(18.0, 18.0, 18.0, 18.0)
    answer = dryfit("advise", "PG-01", "tail-block")
    assert (answer.status, answer.out) == (0, "Stop: thickness conforms everywhere; take nothing off.\n")


def test_a_part_nothing_is_known_of(refused, read):
    """Refused with the command that measures it."""
    read(18.0, 18.0, 18.0, 18.0)
    assert refused("advise", "PG-01", "side").endswith("dryfit measure PG-01 side")
    assert "thickness" in refused("advise", "PG-01", "tail-block", "--characteristic", "thicknes")


def test_a_place_the_plan_moved_is_to_be_read_again(dryfit, log, folder):
    """What was read elsewhere by that name is no size there: advice, verdict and gate say so alike."""
    rows = [
        f"{dt.datetime.now(dt.UTC).isoformat()},PG-01,tail-block,thickness,{name},18.30,mm,CAL-1"
        for name in ("bottom-left", "bottom-right", "top-left", "top-right")
    ]
    assert dryfit("load", log(*rows)).status == 0
    assert dryfit("advise", "PG-01", "tail-block").status == 0
    path = folder / "plans" / "parlour-guitar.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("top-left = [0, 90]", "top-left = [0, 45]"), encoding="utf-8")
    advice = dryfit("advise", "PG-01", "tail-block")
    assert advice.status == 1
    assert advice.out == "Measure first: thickness has no reading at top-left.\n"
    assert "top-left" in dryfit("glueup", "PG-01", "tail-block").out
    judged = dryfit("check", "PG-01", "tail-block", "--json").json["builds"][0]["parts"][0]["characteristics"]
    assert [item["station"] for item in judged if item["verdict"] == "not measured"] == [
        "top-left",
        None,
        None,
    ]
