"""`dryfit drift`: the JSON of its contract, plain sentences, a fix stated, and one clear line for bad use."""

import pytest

SERIES = {
    "part",
    "characteristic",
    "station",
    "n",
    "mean_deviation",
    "sigma",
    "signals",
    "capability",
    "trend",
}
CAUSE = {"cause", "evidence", "since_build"}


@pytest.fixture
def builds(dryfit, log):
    """Loads tail blocks of that many builds, one a week; from build `since` on 0.3 thicker."""

    def load(count, since=99):
        rows = []
        for number in range(1, count + 1):
            size = 18.0 + (0.01, -0.02, 0.02, 0.0, -0.01)[number % 5] + (0.3 if number >= since else 0)
            for place, station in enumerate(("bottom-left", "bottom-right", "top-left", "top-right")):
                day = f"2025-{1 + number // 4:02d}-{1 + 7 * (number % 4):02d}T09:{10 + place}"
                value = f"{size + (0.01, -0.01, 0.0, 0.01)[(number + place) % 4]:.2f}"
                rows.append(f"{day},PG-{number:02d},tail-block,thickness,{station},{value},mm,CAL-1")
        answer = dryfit("load", log(*rows))
        assert answer.status == 0, answer

    return load


def test_the_document_is_as_promised(dryfit, builds):
    """Series with signals as build, rule and value; causes with evidence and the build they began at."""
    builds(14, since=11)
    told = dryfit("drift", "--json")
    assert (told.status, told.err) == (0, "")
    assert all(set(one) >= SERIES for one in told.json["series"])
    assert all(set(one) >= CAUSE for one in told.json["causes"])
    (thick,) = [s for s in told.json["series"] if s["characteristic"] == "thickness"]
    assert (thick["n"], thick["part"], thick["station"]) == (14, "tail-block", "mean of stations")
    assert thick["signals"][0]["build"] == "PG-11"
    assert set(thick["signals"][0]) == {"build", "rule", "value"}
    assert thick["capability"]["n"] == 14
    assert thick["trend"]["change"]["since_build"] == "PG-11"


def test_few_builds_say_what_they_lack(dryfit, builds):
    """Two builds: no capability, no trend, no cause, and the reason in words; status 0."""
    builds(2)
    told = dryfit("drift", "--json").json
    assert all(one["capability"] is None and one["trend"] is None for one in told["series"])
    assert told["causes"] == []
    assert "measure 3 more" in told["causes_why"]
    assert any("1 more build" in why for one in told["series"] for why in one["why"])


def test_an_empty_shop_is_told_what_to_do(dryfit):
    """Nothing measured: a sentence, or empty lists."""
    assert "dryfit measure" in dryfit("drift").out
    assert dryfit("drift", "--json").json["series"] == []


def test_sentences_for_people(dryfit, builds):
    """Causes, machines and series in words, lengths with their unit."""
    builds(14, since=11)
    said = dryfit("drift", "--hold", "0.1").out
    assert "Likely causes" in said
    assert "the chart first speaks at PG-11" in said
    assert "tail-block thickness within ±0.10 mm" in said
    assert "nan" not in said.lower()


def test_one_station_may_be_asked_for(dryfit, builds):
    """A station by name, and a view by its name in the document."""
    builds(6)
    asked = ("drift", "--json", "--part", "tail-block", "--characteristic", "thickness", "--station")
    for station in ("top-left", "left less right"):
        (one,) = dryfit(*asked, station).json["series"]
        assert (one["station"], one["n"]) == (station, 6)


def test_a_fix_begins_a_new_baseline(dryfit, builds):
    """Stated once, kept, and the chart no longer speaks of what was put right."""
    builds(16, since=9)
    assert dryfit("drift", "--json").json["series"][0]["signals"]
    said = dryfit("drift", "--fix", "new stop", "--on", "2025-03-05", "--part", "tail-block",
                  "--characteristic", "thickness")  # fmt: skip
    assert said.status == 0
    begins = "Kept: new stop, 2025-03-05; charts of what comes from tail-block thickness begin anew"
    assert said.out.startswith(begins)
    told = dryfit("drift", "--json").json
    assert [fix["text"] for fix in told["fixes"]] == ["new stop"]
    (thick,) = [s for s in told["series"] if s["characteristic"] == "thickness"]
    assert not [s for s in thick["signals"] if s["build"] >= "PG-09"]


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("--part", "tail-blok"), "tail-block"),
        (("--station", "top-left"), "--part"),
        (("--machine", "saw"), "--fix"),
        (("--fix", "x", "--on", "last week"), "not a date"),
        (("--fix", "x", "--on", "2999-01-01"), "not come yet"),
        (("--fix", "  "), "needs words"),
        (("--hold", "-1"), "above 0"),
    ],
)
def test_bad_use_is_one_clear_line(refused, builds, arguments, why):
    """Status 2, the reason, and what to do."""
    builds(2)
    assert why in refused("drift", *arguments)
