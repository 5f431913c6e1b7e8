"""Verdicts on what the store holds, each build by the plan it was begun under."""

from dataclasses import replace

import pytest

from qa.checking import check, check_each, plan_of
from qa.errors import ShopError
from qa.record import BenchEvent
from qa.shop import load_shop


@pytest.fixture
def measured(shop, store, plan, reading):
    """A shop with two builds measured: PG-02 begun first."""
    for n in range(4):
        store.append(reading(100 + n, 18.0), plan)
        store.append(reading(n, 18.4, build="PG-02"), plan)
    return shop, store


def test_builds_are_judged_in_the_order_they_were_begun(measured):
    """All of them, or one, or one part of it; on SQLite and PostgreSQL alike."""
    assert [item.build for item in check(*measured)] == ["PG-02", "PG-01"]
    (one,) = check(*measured, "PG-01", "tail-block")
    assert [part.part for part in one.parts] == ["tail-block"]
    assert {str(c.verdict) for c in one.parts[0].characteristics} == {"conforms", "not measured"}
    (two,) = check(*measured, "PG-02")
    assert str(two.parts[0].verdict) == "does not conform"


def test_names_that_are_not_known(measured):
    """The near ones are told."""
    with pytest.raises(ShopError, match=r"PG-03.*known: PG-0"):
        check(*measured, "PG-03")
    with pytest.raises(ShopError, match=r"tail-blok.*known: tail-block"):
        check(*measured, "PG-01", "tail-blok")


def test_nothing_measured_is_no_error(shop, store):
    """An empty shop has no verdicts."""
    assert check(shop, store) == []


def test_a_build_stays_under_its_revision(folder, store, plan, plan_text, reading):
    """A later, tighter plan judges later builds only."""
    tighter = plan_text.replace('unit = "mm"', 'unit = "mm"\nsince = 2025-06-01', 1)
    tighter = tighter.replace("tolerance = 0.15", "tolerance = 0.02")
    (folder / "plans" / "later.toml").write_text(tighter, encoding="utf-8")
    shop = load_shop(folder)
    old, new = shop.plans["parlour-guitar"]
    store.append(reading(0, 18.08), old)
    later = reading(0, 18.08, build="PG-02", taken_at="2025-07-01T09:00:00.000000Z")
    store.append(later, new)
    first, second = check(shop, store)
    assert (first.plan, second.plan) == (old.digest, new.digest)
    assert str(first.parts[0].characteristics[0].verdict) == "conforms"
    assert str(second.parts[0].characteristics[0].verdict) == "does not conform"
    assert plan_of(shop, store, "PG-01").digest == old.digest
    assert plan_of(shop, store, "PG-99").digest == new.digest


def test_a_build_is_of_one_model(folder, store, plan, plan_text, reading):
    """Asking for it as another is refused with both names."""
    other = plan_text.replace("parlour-guitar", "octave-mandolin")
    (folder / "plans" / "other.toml").write_text(other, encoding="utf-8")
    shop = load_shop(folder)
    store.append(reading(), plan)
    with pytest.raises(ShopError, match="begun as 'parlour-guitar', not 'octave-mandolin'"):
        plan_of(shop, store, "PG-01", "octave-mandolin")
    assert plan_of(shop, store, "PG-01", "parlour-guitar").model == "parlour-guitar"
    assert plan_of(shop, store, "PG-02", "octave-mandolin").model == "octave-mandolin"
    with pytest.raises(ShopError, match="say which with --model"):
        plan_of(shop, store, "PG-02")


@pytest.mark.parametrize("name", ["", " ", " PG-01", "PG-01\n", "PG\x1f01", "\udcff"])
def test_a_build_needs_a_name_that_can_be_written(shop, store, name):
    """So that two names which look alike are alike."""
    with pytest.raises(ShopError, match="cannot be the name of a build"):
        plan_of(shop, store, name)


def test_a_plan_that_is_gone(folder, store, plan, reading):
    """Its builds cannot be judged, and that is said with the model's name."""
    store.append(reading(), plan)
    (folder / "plans" / "parlour-guitar.toml").unlink()
    with pytest.raises(ShopError, match="PG-01 cannot be judged: no model is called 'parlour-guitar'"):
        check(load_shop(folder), store)


def test_a_plan_that_is_gone_keeps_no_other_build_from_being_judged(folder, store, plan, plan_text, reading):
    """The build is named with the reason beside the verdicts on the rest."""
    (folder / "plans" / "other.toml").write_text(plan_text.replace("parlour-guitar", "octave-mandolin"))
    other = load_shop(folder).plan("octave-mandolin")
    store.append(reading(build="OC-01"), other)
    store.append(reading(9), plan)
    (folder / "plans" / "other.toml").unlink()
    found = check_each(load_shop(folder), store, part="tail-block")
    assert [item.build for item in found.builds] == ["PG-01"]
    ((name, why),) = found.problems
    assert name == "OC-01"
    assert "octave-mandolin" in why


def test_readings_before_the_last_planing_are_not_the_parts_size(shop, store, plan, reading):
    """They are kept, but the part is to be measured anew."""
    for n in range(4):
        store.append(reading(n, 18.0), plan)
    planed = BenchEvent("2025-03-01T10:00:00.000000Z", "planed", "PG-01", "tail-block")
    sequence = store.add_event(planed)
    (build,) = check(shop, store, "PG-01", "tail-block")
    assert {str(item.verdict) for item in build.parts[0].characteristics} == {"not measured"}
    store.add_event(replace(planed, kind="planed taken back", body={"of": sequence}))
    again = check(shop, store, "PG-01", "tail-block")[0].parts[0].characteristics
    assert [str(c.verdict) for c in again if c.kind == "thickness"] == ["conforms"] * 4
