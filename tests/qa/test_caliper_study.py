"""Studies from files: which one the readings allow, its figures, and what is said of them."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from qa.calipers.study import analyse, provable
from qa.calipers.study_file import read_study
from qa.calipers.words import component_table, say, study_document
from qa.errors import CannotSay, ShopError

STUDIES = Path(__file__).parents[2] / "sample_logs" / "studies"


HEAD = "part,appraiser,trial,value"


def frame(*rows):
    """A study of rows part, appraiser, trial, value."""
    return pd.DataFrame(rows, columns=["part", "appraiser", "trial", "value"])


def repeats(values, appraiser="CAL-1", part="block"):
    """Readings of one part by one appraiser."""
    return [(part, appraiser, str(n), value) for n, value in enumerate(values, 1)]


@pytest.mark.parametrize(("sd", "tolerance"), [(0.01, 0.10), (0.0099, 0.10), (0.0101, 0.11), (0.025, 0.25)])
def test_a_tolerance_of_ten_standard_deviations_can_be_proved(sd, tolerance):
    """Six of them take 30 % of plus-minus ten; rounded up to 0.01."""
    assert provable(sd) == pytest.approx(tolerance)


def test_repeats_by_hand():
    """Five readings: their standard deviation with n - 1."""
    values = [22.05, 22.04, 22.07, 22.04, 22.05]
    study = analyse(frame(*repeats(values)))
    (found,) = study.repeats
    assert study.kind == "repeats"
    assert found.repeatability == pytest.approx(np.std(values, ddof=1))
    assert (found.dof, found.n, found.name) == (4, 5, "CAL-1")
    assert found.low < found.repeatability < found.high


def test_the_shipped_studies_say_what_the_calipers_can_prove():
    """On spruce neither can judge ±0.10 from one reading; on cherry both can judge ±0.25."""
    spruce = analyse(read_study(STUDIES / "spruce-plate.csv"))
    cherry = analyse(read_study(STUDIES / "cherry-block.csv"))
    assert {item.name: round(item.repeatability, 3) for item in spruce.repeats} == {
        "CAL-1": 0.025,
        "CAL-2": 0.026,
    }
    assert all(0.70 < item.share(0.10) < 0.82 for item in spruce.repeats)
    assert all(0.15 < item.share(0.25) < 0.21 for item in cherry.repeats)
    assert "not able to judge it" in say(spruce, 0.10)[1]
    assert "usable" in say(cherry, 0.25)[1]


def test_several_parts_and_appraisers_make_a_crossed_study():
    """Its gauge, hands included, judges the tolerance."""
    study = analyse(read_study(STUDIES / "cherry-offcuts.csv"), 0.10)
    (together,) = study.repeats
    assert study.kind == "crossed"
    assert together.sd == pytest.approx(study.crossed.gauge)
    assert together.repeatability == pytest.approx(study.crossed.repeatability)
    of_gauge = next(item for item in study.crossed.components if item.name == "gauge")
    assert 100 * together.share(0.10) == pytest.approx(of_gauge.of_tolerance)


def test_a_reference_gives_the_bias():
    """Mean reading less 25, by appraiser."""
    values = [25.02, 25.03, 25.02, 25.01]
    found = analyse(frame(*repeats(values)), reference=25.0).references["CAL-1"]
    assert found.bias == pytest.approx(0.02)
    assert "an error is shown" in say(analyse(frame(*repeats(values)), reference=25.0))[0]


def hands(light, firm):
    """Places read with a light and a firm thumb."""
    return frame(*repeats(light, "light", "plate"), *repeats(firm, "Firm", "plate"))


def test_a_firm_thumb_is_compared_place_by_place():
    """The give of the wood, and what to write into the plan; the order of the rows does not matter."""
    light, firm = [2.90, 2.92, 2.88, 2.91], [2.86, 2.89, 2.84, 2.88]
    study = analyse(hands(light, firm), compliance=True)
    mixed = analyse(hands(light, firm).sample(frac=1, random_state=3), compliance=True)
    assert study.compliance.compression == pytest.approx(np.mean(np.subtract(light, firm)))
    assert mixed.compliance == study.compliance
    assert "jaw_give of 0.018" in say(study)[1]


def test_wood_that_does_not_give_is_said():
    """No give is no finding of some."""
    told = say(analyse(hands([2.9, 2.91, 2.9, 2.91], [2.91, 2.9, 2.9, 2.91]), compliance=True))
    assert told[0].startswith("No give is shown")


@pytest.mark.parametrize(
    ("rows", "options", "why"),
    [
        (frame(), {}, "no readings"),
        (frame(), {"reference": 25.0}, "no readings"),
        (frame(*repeats([1.0])), {}, "trials"),
        (frame(*repeats([1.0, 1.0, 1.0])), {}, "agree"),
        (frame(*repeats([1.0, float("nan")])), {}, "finite"),
        (frame(*repeats([1.0, "x"])), {"reference": 1.0}, "no number"),
        (frame(*repeats([1.0, 1.1])), {"compliance": True}, "light and firm"),
        (frame(*repeats([1.0, 1.1], "light")), {"compliance": True}, "both are needed"),
        (
            frame(*repeats([1.0, 1.1], "light"), *repeats([1.0], "firm")),
            {"compliance": True},
            "trial 2 lacks",
        ),
    ],
)
def test_what_a_study_cannot_say_is_said(rows, options, why):
    """By part, appraiser and trial where it is one reading's fault."""
    with pytest.raises(CannotSay, match=why):
        analyse(rows, **options)


def test_only_what_was_studied_is_kept():
    """One appraiser's figures for any instrument; of several only their own."""
    one = analyse(frame(*repeats([1.0, 1.01])))
    two = analyse(read_study(STUDIES / "spruce-plate.csv"))
    assert one.of("CAL-9").name == "CAL-1"
    assert two.of("CAL-2").name == "CAL-2"
    with pytest.raises(CannotSay, match="CAL-1, CAL-2"):
        two.of("CAL-9")
    with pytest.raises(CannotSay, match="no repeatability"):
        analyse(frame(*repeats([1.0, 1.01])), reference=1.0).of("CAL-1")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("part,value\na,1\n", "no column appraiser, trial"),
        (" \n", "is empty"),
        (f"{HEAD}\na,K,1,NaN\n", "line 2: cannot read 'NaN'"),
        (f"{HEAD}\na,K,1,2.5\n\na,K,2,two\n", "line 4: cannot read 'two'"),
        (f"{HEAD}\na,,1,2.5\n", "line 2 has no appraiser"),
        (f"{HEAD}\na,K\n", "line 2 has no trial"),
        (f"{HEAD}\na,K,1,2,51\n", "line 2 has more cells"),
        (f"{HEAD}\na,K,1,2.5\na,K,1,2.6\n", "part a, appraiser K, trial 1 is given twice"),
    ],
)
def test_a_file_that_is_no_study_is_refused(tmp_path, text, why):
    """In one line that says where."""
    path = tmp_path / "study.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ShopError, match=why):
        read_study(path)


def test_a_table_apart_by_semicolons_has_decimal_commas(tmp_path):
    """As a sheet of half of Europe saves it, with a mark at its beginning; inches where they are named."""
    path = tmp_path / "study.csv"
    text = "part;appraiser;trial;value;note\na;K;1;2,51;x\n;;;;\na;K;2;0.1 in;\n"
    path.write_text(text, encoding="utf-8-sig")
    assert read_study(path)["value"].tolist() == [2.51, 2.54]


def on_woods(*woods):
    """Two readings of a part of each wood."""
    rows = [(f"p{n}", "K", str(t), 2.5 + t / 100, wood) for n, wood in enumerate(woods) for t in (1, 2)]
    return pd.DataFrame(rows, columns=[*HEAD.split(","), "species"])


@pytest.mark.parametrize(
    ("woods", "asked", "taken"),
    [
        (["cherry"], "", ("cherry", 2)),
        (["", "Any"], "", ("", 4)),
        ([""], "cherry", ("cherry", 2)),
        (["cherry", "sitka spruce"], "Sitka-spruce", ("sitka spruce", 2)),
        (["cherry", "sitka spruce"], "black cherry", ("cherry", 2)),
        (["cherry", "sitka spruce"], "any", ("", 4)),
    ],
)
def test_a_study_is_on_one_wood(woods, asked, taken):
    """That of its column, or the one asked for, however it is spelled; any takes all."""
    made = analyse(on_woods(*woods), species=asked)
    assert (made.species, made.repeats[0].n) == taken


@pytest.mark.parametrize(
    ("woods", "asked"), [(["cherry", "teak"], ""), (["cherry"], "teak"), (["teak", ""], "")]
)
def test_a_study_of_several_woods_asks_which(woods, asked):
    """And names them."""
    with pytest.raises(CannotSay, match="say which"):
        analyse(on_woods(*woods), species=asked)


def test_a_crossed_study_tells_its_rule_and_every_component():
    """Each with its interval and its shares; a variance below zero is said."""
    study = analyse(read_study(STUDIES / "cherry-offcuts.csv"), 0.10)
    head, *rows = component_table(study.crossed)
    assert [row[0] for row in rows] == [
        "repeatability", "reproducibility", "interaction", "part", "gauge", "total",
    ]  # fmt: skip
    assert head[-1] == "of tolerance"
    assert [row[-1] for row in rows][-2:] == ["42.5 %", "275.3 %"]
    assert "p is above 0.25; here p is 0.095" in " ".join(say(study))
    assert study.notes == ("reproducibility came out below zero and counts as zero",)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    """With its name."""
    with pytest.raises(ShopError, match="nowhere"):
        read_study(tmp_path / "nowhere.csv")


@pytest.mark.parametrize("name", ["spruce-plate", "cherry-block", "cherry-offcuts"])
def test_the_document_holds_plain_numbers(name):
    """So that it is JSON, whatever the study."""
    import json

    study = analyse(read_study(STUDIES / f"{name}.csv"), 0.1)
    assert json.loads(json.dumps(study_document(study, 0.1), allow_nan=False))["study"] == study.kind
