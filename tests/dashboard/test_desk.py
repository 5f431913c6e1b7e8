"""The desk keeps verdicts until something changes, and no longer."""

from __future__ import annotations

import qa.checking
from qa.record import BenchEvent


def counted_checks(monkeypatch) -> list[str]:
    judged: list[str] = []
    check_each = qa.checking.check_each

    def counting(shop, store, builds=None, part=None):
        judged.extend(builds)
        return check_each(shop, store, builds, part)

    monkeypatch.setattr(qa.checking, "check_each", counting)
    return judged


def test_verdicts_are_kept_while_nothing_changes(full_desk, monkeypatch):
    """Asking twice judges each build once."""
    judged = counted_checks(monkeypatch)

    first, second = full_desk.verdicts(), full_desk.verdicts()

    assert first == second
    assert len(judged) == len(set(judged)) == 7


def test_no_more_builds_are_judged_than_are_asked_for(full_desk, monkeypatch):
    """In the order asked for; a bench that reads later is known too."""
    judged = counted_checks(monkeypatch)

    found = full_desk.verdicts(["TG-5", "TG-2"])

    assert [item.build for item in found.builds] == judged == ["TG-5", "TG-2"]
    assert full_desk.benches() == ["North", "South"]


def test_a_new_reading_changes_its_build_s_verdict(full_desk, shops):
    """What another program stores is seen at the next asking."""
    before = {item.build: item for item in full_desk.verdicts().builds}

    shops.read(full_desk.folder, "TG-1", "travel-guitar", "brace", "width", "middle", 8.9, 20)
    after = {item.build: item for item in full_desk.verdicts().builds}

    assert before["TG-1"].fit
    assert not after["TG-1"].fit
    assert after["TG-2"] is before["TG-2"] or after["TG-2"] == before["TG-2"]


def test_only_recent_builds_are_judged_again(full_desk, shops, monkeypatch):
    """A build without a recent reading keeps its verdict."""
    monkeypatch.setattr("dashboard.desk.OVERLAP", 0)
    full_desk.verdicts()
    judged = counted_checks(monkeypatch)

    shops.read(full_desk.folder, "TG-4", "travel-guitar", "brace", "width", "middle", 8.0, 21)
    full_desk.verdicts()

    assert judged == ["TG-4"]


def test_a_changed_plan_judges_everything_again(full_desk):
    """A tighter tolerance is in force as soon as its file is saved."""
    plan = full_desk.folder / "plans" / "travel-guitar.toml"
    before = {item.build: item.fit for item in full_desk.verdicts().builds}
    plan.write_text(plan.read_text().replace("tolerance = 0.15", "tolerance = 0.0001"))
    after = {item.build: item.fit for item in full_desk.verdicts().builds}

    assert before["TG-3"]
    assert not after["TG-3"]


def test_the_position_moves_when_something_is_stored(full_desk, shops):
    """The same position while nothing happens, another after a reading and after a changed plan."""
    first = full_desk.position()
    assert full_desk.position() == first

    shops.read(full_desk.folder, "TG-1", "travel-guitar", "brace", "width", "middle", 8.1, 22)
    second = full_desk.position()
    assert second != first

    plan = full_desk.folder / "plans" / "lap-harp.toml"
    plan.write_text(plan.read_text() + "\n# a note\n")
    assert full_desk.position() not in (first, second)


def test_a_build_whose_plan_is_gone_does_not_hide_the_others(full_desk):
    """It is named with the reason; every other build is judged."""
    (full_desk.folder / "plans" / "lap-harp.toml").unlink()

    found = full_desk.verdicts()

    assert [name for name, _ in found.problems] == ["LH-1"]
    assert "TG-1" in [item.build for item in found.builds]


def test_a_part_stands_where_it_was_while_others_are_read(full_desk, shops):
    """What is stored of another part leaves it; a reading of its own, an event or a changed file moves it."""
    first = full_desk.stand("TG-1", "brace")

    shops.read(full_desk.folder, "TG-2", "travel-guitar", "brace", "width", "middle", 8.1, 22)
    assert full_desk.stand("TG-1", "brace") == first

    shops.read(full_desk.folder, "TG-1", "travel-guitar", "brace", "width", "middle", 8.1, 23)
    second = full_desk.stand("TG-1", "brace")
    full_desk.store().add_event(BenchEvent("2025-04-01T09:00:00.000000Z", "climate"))
    third = full_desk.stand("TG-1", "brace")
    plan = full_desk.folder / "plans" / "lap-harp.toml"
    plan.write_text(plan.read_text() + "\n# a note\n")

    assert len({first, second, third, full_desk.stand("TG-1", "brace")}) == 4
