"""`dryfit glueup`: one part from the blank to the glue, and every way there is to be refused."""

import datetime as dt
import random

import pytest

from qa.store.store import open_store

STATIONS = ("bottom-left", "bottom-right", "top-left", "top-right")
HEADER = "taken_at,build,part,characteristic,station,value,unit,instrument,rh_percent,temp_c"


@pytest.fixture
def read(dryfit, log):
    """Loads readings of the tail block taken a while ago, in seconds."""

    def load(values, ago=600, rh="", name="log.csv"):
        now = dt.datetime.now(dt.UTC)
        rows = []
        for number, (place, value) in enumerate(values.items()):
            characteristic, _, station = place.partition("/")
            moment = now - dt.timedelta(seconds=ago - number)
            rows.append(
                f"{moment.isoformat()},PG-01,tail-block,{characteristic},{station},{value},mm,CAL-1,{rh},"
            )
        path = log(*rows, name=name, header=HEADER)
        assert dryfit("load", path).status == 0

    return load


def good(**changed):
    values = dict(zip((f"thickness/{name}" for name in STATIONS), (18.0, 18.01, 18.02, 18.01), strict=True))
    return (
        values
        | {"squareness": 0.02}
        | {name.replace("__", "/").replace("_", "-"): v for name, v in changed.items()}
    )


@pytest.fixture
def walked(folder):
    """The tail block of the small shop with its twist judged too."""
    plan = folder / "plans" / "parlour-guitar.toml"
    text = plan.read_text(encoding="utf-8")
    twist = '[parts.tail-block.characteristics.twist]\nkind = "twist"\nof = "thickness"\nlimit = 0.12\n'
    plan.write_text(text.replace("[parts.side]", twist + "\n[parts.side]", 1), encoding="utf-8")


def test_a_part_from_the_blank_to_the_glue(walked, dryfit):
    """Twisted and thick: refused, planed as advised, read again, passed and recorded."""
    twisted = {"bottom-left": 18.10, "bottom-right": 18.31, "top-left": 18.38, "top-right": 18.06}
    typed = "\n".join([*map(str, twisted.values()), "0.03"]) + "\n"
    said = dryfit("measure", "PG-01", "tail-block", "--instrument", "CAL-1", typed=typed)
    assert "✕ twist -0.53 mm, does not conform, under the lower limit by 0.41 mm" in said.out
    assert said.status == 1

    closed = dryfit("glueup", "PG-01", "tail-block", "--rh", 45)
    assert closed.status == 1
    assert closed.out.startswith("PG-01 tail-block: the gate is CLOSED. Next: work.\n")
    assert "work: thickness top-left is 18.38 mm, over the upper limit by 0.23 mm. " in closed.out
    assert "work: twist is -0.53 mm, under the lower limit by 0.41 mm. " in closed.out
    refused = dryfit("glueup", "PG-01", "tail-block", "--record", "--glue", "hide")
    assert refused.status == 1
    assert "recorded" not in refused.out

    advice = dryfit("advise", "PG-01", "tail-block")
    assert advice.status == 0
    assert "bottom-right and top-left stand high on one diagonal" in advice.out
    assert "keep both hands behind the edge" in advice.out
    off = dryfit("advise", "PG-01", "tail-block", "--json").json["take_off"]
    hand = random.Random(5)
    planed = {name: size - off[name] + hand.uniform(-0.008, 0.008) for name, size in twisted.items()}

    typed = "\n".join(["p", *(f"{size:.2f}" for size in planed.values()), "0.03"]) + "\n"
    said = dryfit("measure", "PG-01", "tail-block", "--instrument", "CAL-1", typed=typed)
    assert said.status == 0, said.out
    assert "tail-block is fit: every characteristic conforms" in said.out

    answer = dryfit(
        "glueup", "PG-01", "tail-block", "--rh", 45, "--record", "--glue", "hide", "--open-minutes", 1
    )
    assert answer.status == 0
    assert answer.out.startswith("PG-01 tail-block: the gate is OPEN. Next: glue.\n")
    assert answer.out.endswith("The glue-up is recorded.\n")

    said = dryfit("measure", "PG-01", "tail-block", typed="s\ns\ns\ns\n0.25\n")
    after = dryfit("glueup", "PG-01", "tail-block", "--rh", 45)
    assert "clamping: squareness went from 0.02 mm to 0.20 mm, +0.18 mm (± 0.04 mm)" in after.out


def test_planed_but_not_read_again(dryfit, read):
    """Between the plane and the caliper the gate is closed, and advice is to measure."""
    read(good())
    assert dryfit("glueup", "PG-01", "tail-block").status == 0
    dryfit("measure", "PG-01", "tail-block", typed="p\n")
    answer = dryfit("glueup", "PG-01", "tail-block", "--json")
    assert answer.json["next"] == "measure"
    assert answer.json["reasons"][0]["why"].endswith(
        "was last read before the part was planed: read it again."
    )
    advice = dryfit("advise", "PG-01", "tail-block")
    assert advice.status == 1
    assert advice.out == (
        "Measure first: thickness has no reading at bottom-left, bottom-right, top-left and top-right since "
        "the part was planed.\n"
    )
    assert dryfit("check", "PG-01", "tail-block").status == 1


def test_glueup_json_holds_the_contract(dryfit, read):
    """Every field, for a part that is open in a shop without checks or hygrometer."""
    read(good())
    answer = dryfit("glueup", "PG-01", "tail-block", "--json")
    assert answer.status == 0
    document = answer.json
    named = {"build": "PG-01", "part": "tail-block", "gate": "open", "next": "glue", "reasons": [],
             "overridden": False}  # fmt: skip
    assert {name: document[name] for name in named} == named
    assert len(document["notes"]) == 3


def test_what_the_command_can_do_is_named_as_a_command(dryfit, read):
    """The room's air is given or kept, an instrument is checked; on paper and pages these are no help."""
    read(good())
    said = dryfit("glueup", "PG-01", "tail-block")
    air = (
        "The room's humidity is not known, so it could not be looked at. "
        "Give it with --rh, or keep it: dryfit caliper climate --rh 45."
    )
    never = "CAL-1 has never been checked. Check it: dryfit caliper check CAL-1."
    assert f"  note: {air}\n" in said.out
    assert f"  note: {never}\n" in said.out
    notes = dryfit("glueup", "PG-01", "tail-block", "--json").json["notes"]
    assert (notes[0], notes[-1]) == (air, never)

    dryfit("caliper", "check", "CAL-1", "--reference", "25.00", "--reading", "25.30")
    (failed,) = [
        item["why"]
        for item in dryfit("glueup", "PG-01", "tail-block", "--json").json["reasons"]
        if item["about"] == "instrument/CAL-1"
    ]
    assert failed.endswith("then read the part again. Check it: dryfit caliper check CAL-1 --adjusted.")


@pytest.mark.parametrize(
    ("changed", "word", "about"),
    [
        ({"thickness__top_left": 18.40}, "work", "thickness/top-left"),
        ({"thickness__top_left": 17.40}, "stop", "thickness/top-left"),
        ({"thickness__top_left": 18.14}, "measure", "thickness/top-left"),
        ({"squareness": 0.40}, "work", "squareness"),
    ],
)
def test_what_comes_next(dryfit, read, changed, word, about):
    """Closed, with the word and the reason first that decides it."""
    read(good(**changed))
    answer = dryfit("glueup", "PG-01", "tail-block", "--json")
    assert answer.status == 1
    assert (answer.json["gate"], answer.json["next"]) == ("closed", word)
    assert answer.json["reasons"][0]["about"] == about


def test_a_station_not_read(dryfit, read):
    """Not measured is never fit."""
    values = good()
    del values["thickness/top-left"]
    read(values)
    document = dryfit("glueup", "PG-01", "tail-block", "--json").json
    assert document["next"] == "measure"
    assert {item["about"] for item in document["reasons"]} == {"thickness/top-left", "taper"}


def test_the_room_by_option(dryfit, read):
    """Told on the day, whatever was logged."""
    read(good(), rh="45")
    answer = dryfit("glueup", "PG-01", "tail-block", "--rh", 66, "--json")
    assert (answer.status, answer.json["next"]) == (1, "wait")
    assert answer.json["climate"] == {"rh_percent": 66.0, "temp_c": None, "at": None}
    assert dryfit("glueup", "PG-01", "tail-block").status == 0


def test_how_old_the_air_is_that_the_gate_went_by(dryfit, read):
    """It may be of yesterday; told on the day it has no age."""
    read(good(), rh="45", ago=7204)
    told = "  air: the room was at 45 % RH 2 hours ago\n"
    assert told in dryfit("glueup", "PG-01", "tail-block").out
    assert "the room was" not in dryfit("glueup", "PG-01", "tail-block", "--rh", 45).out


def test_an_override_opens_and_is_remembered(dryfit, read, folder):
    """Open, overridden, reasons still told; a glue-up may then be recorded, and says so."""
    read(good(squareness=0.40))
    answer = dryfit(
        "glueup", "PG-01", "tail-block", "--override", "the heel hides it", "--by", "North", "--json"
    )
    assert answer.status == 0
    assert (answer.json["gate"], answer.json["overridden"]) == ("open", True)
    assert answer.json["override"] == "the heel hides it"
    assert [item["about"] for item in answer.json["reasons"]] == ["squareness"]
    again = dryfit("glueup", "PG-01", "tail-block", "--record", "--glue", "hide", "--batch", "2026-01")
    assert "the gate is OPEN by override: the heel hides it. Next: glue." in again.out
    with open_store(f"sqlite:///{folder / 'readings.db'}") as store:
        (kept,) = store.events("glue-up")
        assert len(store.events("override")) == 1
    assert (kept.body["overridden"], kept.body["glue"], kept.body["batch"]) == (True, "hide", "2026-01")


def test_an_override_of_an_open_gate_is_not_kept(dryfit, read, folder):
    """There is nothing to override."""
    read(good())
    assert not dryfit("glueup", "PG-01", "tail-block", "--override", "in a hurry", "--json").json[
        "overridden"
    ]
    with open_store(f"sqlite:///{folder / 'readings.db'}") as store:
        assert store.events("override") == []


def test_an_override_without_a_reason_is_refused(dryfit, refused, read):
    """The reason is what is kept."""
    read(good(squareness=0.40))
    assert "an override needs a reason" in refused("glueup", "PG-01", "tail-block", "--override", " ")


@pytest.mark.parametrize("minutes", ["inf", "nan", "-1", "1e300"])
def test_minutes_that_no_clock_shows_are_refused(refused, read, folder, minutes):
    """They would stand in the record for ever."""
    read(good())
    for option in ("--open-minutes", "--clamp-minutes"):
        assert option in refused("glueup", "PG-01", "tail-block", "--record", option, minutes)
    with open_store(f"sqlite:///{folder / 'readings.db'}") as store:
        assert store.events("glue-up") == []


def test_an_override_of_an_open_gate_says_so(dryfit, read):
    """It was asked for, and nothing was kept."""
    read(good())
    assert dryfit("glueup", "PG-01", "tail-block", "--override", "in a hurry").out.endswith(
        "The gate is open: nothing was overridden.\n"
    )


def test_sizes_at_the_reference_climate(dryfit, read):
    """Beside the size as read: what it becomes, the humidity then, the window, the age."""
    read(good(), rh="52", ago=7200)
    document = dryfit("glueup", "PG-01", "tail-block", "--json").json
    (item,) = [one for one in document["movement"] if one["about"] == "thickness/top-left"]
    assert (item["size"], item["rh_percent"], item["at_rh_percent"]) == (18.02, 52.0, 45.0)
    assert item["size_at_reference"] == pytest.approx(18.02 + item["moves"], abs=1e-6)
    assert item["moves"] < 0
    assert item["age_hours"] == pytest.approx(2.0, abs=0.1)
    assert item["rh_window"][0] < 45 < item["rh_window"][1]
    assert {one["about"] for one in document["unpredicted"]} == {"taper", "squareness"}
    judged = dryfit("check", "PG-01", "tail-block", "--json").json["builds"][0]["parts"][0]["characteristics"]
    (value,) = [one for one in judged if one["station"] == "top-left"]
    assert value["at_reference"]["value"] == item["size_at_reference"]
    assert (value["rh_percent"], value["age_hours"]) == (52.0, item["age_hours"])
    words = dryfit("glueup", "PG-01", "tail-block").out
    assert "air: thickness, 18.00 mm to 18.02 mm at 52 % RH, becomes 17.97 mm to 17.99 mm at 45 %" in words


@pytest.mark.parametrize("command", ["advise", "glueup"])
def test_builds_and_parts_not_known(refused, read, command):
    """One clear line with what is known."""
    read(good())
    assert "PG-01" in refused(command, "PG-99", "tail-block")
    assert "tail-block" in refused(command, "PG-01", "tail-blok")


def test_no_pressure_rule_is_printed(dryfit, read):
    """Published clamp pressures contradict each other, so none is told."""
    read(good())
    said = dryfit("glueup", "PG-01", "tail-block").out + dryfit("glueup", "--help").out
    assert not any(word in said.lower() for word in ("psi", "mpa", "kpa", "pressure"))


def test_a_second_glue_up_is_kept_only_where_it_is_said_to_be_one(dryfit, refused, read, folder):
    """Sent twice by mistake it is refused, with the day of the first; --again says it was glued again."""
    read(good())
    glued = ("glueup", "PG-01", "tail-block", "--record", "--glue", "hide")
    assert "has not been glued up yet: leave --again out" in refused(*glued, "--again")
    assert dryfit(*glued).status == 0
    today = f"{dt.datetime.now(dt.UTC):%Y-%m-%d}"
    for words in (glued, (*glued, "--batch", "2026-01")):
        said = refused(*words)
        assert f"PG-01 tail-block was glued up already, on {today}" in said
        assert said.endswith("nothing was recorded; if it was glued again, say so with --again")
    assert "--again is for --record" in refused("glueup", "PG-01", "tail-block", "--again")
    assert dryfit(*glued, "--again").out.endswith("The glue-up is recorded.\n")
    with open_store(f"sqlite:///{folder / 'readings.db'}") as store:
        assert [item.body.get("again", False) for item in store.events("glue-up")] == [False, True]


def test_a_refused_second_glue_up_keeps_no_override(refused, dryfit, read, folder):
    """The line that refuses it says that nothing was kept."""
    read(good())
    assert dryfit("glueup", "PG-01", "tail-block", "--record").status == 0
    read(good(squareness=0.40), ago=60, name="later.csv")
    line = ("glueup", "PG-01", "tail-block", "--record", "--override", "the heel hides it")
    assert "glued up already" in refused(*line)
    with open_store(f"sqlite:///{folder / 'readings.db'}") as store:
        assert store.events("override") == []
