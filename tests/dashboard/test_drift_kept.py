"""The shop's drift is worked out once, and again only when something was stored."""

from __future__ import annotations

import threading

import pytest

import qa.drift.report
from dashboard.pages import drift, drift_kept
from dashboard.pages.drift_kept import is_ready, shop_report
from qa.errors import CannotSay


@pytest.fixture
def counted(monkeypatch) -> list[int]:
    """The reports worked out, one entry each."""
    made: list[int] = []
    report = qa.drift.report.report

    def counting(*asked):
        made.append(1)
        return report(*asked)

    monkeypatch.setattr(qa.drift.report, "report", counting)
    return made


@pytest.fixture
def held(monkeypatch) -> threading.Event:
    """Holds every report back until it is set."""
    gate, report = threading.Event(), qa.drift.report.report

    def waiting(*asked):
        assert gate.wait(30)
        return report(*asked)

    monkeypatch.setattr(qa.drift.report, "report", waiting)
    yield gate
    gate.set()


def test_the_report_is_kept_while_nothing_changes(full_desk, counted):
    """Asked for by several at once or one after the other, it is worked out once."""
    asking = [threading.Thread(target=shop_report, args=(full_desk,)) for _ in range(4)]
    for thread in asking:
        thread.start()
    for thread in asking:
        thread.join()

    assert shop_report(full_desk) is shop_report(full_desk)
    assert len(counted) == 1


def test_a_reading_makes_a_new_report(full_desk, shops, counted):
    """What another program stores is in the next one."""
    before = shop_report(full_desk)
    shops.read(full_desk.folder, "TG-9", "travel-guitar", "brace", "width", "middle", 8.0, 30)
    after = shop_report(full_desk)

    assert len(after.series[0].track.made) == len(before.series[0].track.made) + 1
    assert len(counted) == 2


def test_a_page_does_not_wait_for_ever(full_desk, held, monkeypatch):
    """While a report is worked out the page says so; once it is there the page is drawn."""
    monkeypatch.setattr(drift, "PATIENCE_S", 0.05)
    waiting = str(drift.content(full_desk, {}))
    held.set()
    assert is_ready(full_desk, 30)
    drawn = str(drift.content(full_desk, {}))

    assert "Charting the builds" in waiting
    assert "drift-waiting" in waiting
    assert "Likely causes" not in waiting
    assert "Likely causes" in drawn


def test_reports_that_nobody_needs_any_more_are_not_made(full_desk, shops, held, monkeypatch):
    """Ten readings while one report is made cost one more, not ten; who asked first gets the newest."""
    made: list[int] = []
    report = qa.drift.report.report

    def counting(*asked):
        made.append(1)
        return report(*asked)

    monkeypatch.setattr(qa.drift.report, "report", counting)
    for number in range(10):
        assert not is_ready(full_desk, 0.01)
        shops.read(
            full_desk.folder, f"TG-{number + 10}", "travel-guitar", "brace", "width", "middle", 8.0, 40
        )
    held.set()
    found = shop_report(full_desk)

    assert len(found.series[0].track.made) == 16
    assert len(made) <= 2


def test_an_error_is_told_to_whoever_asks(full_desk, monkeypatch):
    """Not kept back in another thread."""

    def failing(*asked):
        raise CannotSay("no")

    monkeypatch.setattr(qa.drift.report, "report", failing)
    with pytest.raises(CannotSay, match="no"):
        shop_report(full_desk)
    assert drift_kept.is_ready(full_desk, 1)
