"""The answers of the demo shop, from its committed readings alone: no diary, no fix, no hint.

Source: sample_logs/README.md, "What is in them, and what Dryfit should answer".
"""

import shutil

import pytest

from qa.demo import LOGS, sample_logs
from qa.drift.document import document
from qa.drift.hold import hold_all
from qa.drift.report import report
from qa.drift.words import hold_sentence, sayer
from qa.logs.loading import load
from qa.shop import load_shop
from qa.store.store import open_store


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo's plans and readings, and no event."""
    folder, source = tmp_path_factory.mktemp("demo"), sample_logs()
    shutil.copytree(source / "plans", folder / "plans")
    shutil.copyfile(source / "shop.toml", folder / "shop.toml")
    shop = load_shop(folder)
    with open_store(shop.store_url) as store:
        load([source / name for name in LOGS], shop, store)
        assert store.events() == []
        yield shop, store


@pytest.fixture(scope="module")
def told(demo):
    """Everything said of it."""
    return document(report(*demo), demo[0])


def cause(told, kind):
    """The one cause of a kind."""
    (found,) = [item for item in told["causes"] if item["kind"] == kind]
    return found


def series(told, part, characteristic, station="mean of stations"):
    """One series."""
    place = (part, characteristic, station)
    (found,) = [s for s in told["series"] if (s["part"], s["characteristic"], s["station"]) == place]
    return found


def first_spoken(found):
    """The first build at which a chart speaks."""
    return min(signal["build"] for signal in found["signals"])


def test_has_the_saw_drifted(told):
    """Yes, brace and lining width from about OM-09 to OM-22, reset before OM-23; not the caliper."""
    saw = cause(told, "machine")
    assert saw["cause"] == "machine: table saw"
    assert set(saw["series"]) == {"brace width mean of stations", "lining width mean of stations"}
    assert saw["since_build"] in ("OM-08", "OM-09", "OM-10")
    assert saw["until_build"] == "OM-22"
    assert "were back before OM-23" in saw["evidence"]
    assert "it is not the caliper" in saw["evidence"]
    assert saw["amount"] == pytest.approx(0.28, abs=0.06)
    assert saw["settled"]
    assert saw["looks"] == 2


def test_when_the_charts_speak_of_the_saw(told):
    """Both charts speak between OM-12 and OM-14, of a creep that was put in from OM-09."""
    spoken = [first_spoken(series(told, part, "width")) for part in ("brace", "lining")]
    assert all("OM-12" <= build <= "OM-14" for build in spoken)
    assert all(series(told, part, "width")["moved"] for part in ("brace", "lining"))


def test_is_the_sander_square(told):
    """No evidence of drift."""
    assert any(line.startswith("disc sander: no evidence of drift") for line in told["quiet"])
    assert not series(told, "neck-block", "squareness", None)["moved"]
    assert not any("squareness" in name for item in told["causes"] for name in item["series"])


def test_does_south_leave_the_top_thick(told):
    """Yes, 0.13 to OM-28, the other bench 0.00; better since OM-30."""
    south = cause(told, "bench")
    assert south["cause"] == "bench: South: tail-block taper"
    assert south["until_build"] == "OM-28"
    assert south["amount"] == pytest.approx(0.13, abs=0.03)
    assert "then +0.04 mm since OM-30" in south["evidence"]
    assert "other benches make it +0.00 mm" in south["evidence"]
    assert south["settled"]


def test_can_we_hold_a_tenth(demo):
    """On fingerboards yes; on tops it is not provable with single readings."""
    held = {one.series: one for one in hold_all(*demo, 0.1)}
    assert held["fingerboard thickness"].answer == "yes"
    assert held["top centre-thickness"].answer == "not provable with single readings"
    assert held["top edge-thickness"].answer == "not provable with single readings"
    assert held["brace width"].answer == "no"
    words = hold_sentence(held["fingerboard thickness"], sayer("mm"))
    assert words.startswith("fingerboard thickness within ±0.10 mm: yes; these builds need ±0.08 mm")


def test_was_a_batch_cut_wet(told):
    """The third was, at 57 %, and swelled 0.15; the fifth was dry and shrank 0.09; no other."""
    wet, dry = told["season"]
    assert wet.startswith("OM-09 to OM-12 were cut wet: the room stood at 57 %")
    assert "swelled 0.15 mm" in wet
    assert dry.startswith("OM-17 to OM-20 were cut dry: the room stood at 36 %")
    assert "shrank 0.09 mm" in dry
    air = cause(told, "humidity")
    assert air["series"] == ["tail-block width moved before glue"]
    assert air["amount"] == pytest.approx(1.0, abs=0.25)


def test_can_we_trust_the_calipers(told):
    """CAL-2 read 0.06 high on OM-26, OM-28 and OM-30; tapers do not show it; a gauge block would."""
    caliper = cause(told, "instrument")
    assert caliper["name"] == "CAL-2"
    assert (caliper["since_build"], caliper["until_build"]) == ("OM-26", "OM-30")
    assert caliper["amount"] == pytest.approx(0.06, abs=0.01)
    assert "0.06 mm high on OM-26, OM-28 and OM-30" in caliper["evidence"]
    assert "gauge block" in caliper["to_tell_apart"]
    assert caliper["settled"]


def test_no_other_cause_is_named(told):
    """Four stories were put in, and four causes are named."""
    assert sorted(item["kind"] for item in told["causes"]) == ["bench", "humidity", "instrument", "machine"]


@pytest.mark.parametrize("part", ["bridge-patch", "head-veneer", "binding", "neck-block"])
def test_the_quiet_controls(told, part):
    """Nothing here, or nothing of its own: the caliper's three builds."""
    control = series(told, part, "thickness")
    assert not control["moved"]
    assert control["says"][0].startswith(("Nothing here", "Nothing of its own"))


def test_tapers_say_nothing_of_the_caliper(told):
    """No difference is among what the caliper moved."""
    assert not any(
        word in name for name in cause(told, "instrument")["series"] for word in ("taper", " less ")
    )
