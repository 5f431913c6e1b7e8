"""Looking over a shop: each thing that may be wrong is found and says what to do; nothing is changed."""

import datetime as dt
import os
import socket
from collections.abc import Callable
from pathlib import Path

import pytest

from qa import doctor
from qa.doctor import examine
from qa.plans.plan import Plan
from qa.record import BenchEvent, BenchReading, utc
from qa.shop import Shop, load_shop
from qa.store.schema import STEPS
from qa.store.spool_file import Spool
from qa.store.store import open_store

NOW = dt.datetime(2026, 3, 2, 10, tzinfo=dt.UTC)


def levels(folder: Path, now: dt.datetime = NOW) -> dict[str, tuple[str, str]]:
    """Each finding's level and words by what it is about."""
    return {item.about: (item.level, item.says) for item in examine(folder, now)}


def measured(shop: Shop, plan: Plan) -> None:
    """One reading an hour before now."""
    with open_store(shop.store_url) as store:
        at = utc(NOW - dt.timedelta(hours=1))
        row = BenchReading(at, "B-1", "tail-block", "thickness", "top-left", 18_000_000, instrument="CAL-1")
        store.append(row, plan)


def test_a_new_shop_is_well_and_no_store_is_made(folder: Path) -> None:
    """Before the first reading nothing is bad, and looking makes no file."""
    before = sorted(folder.rglob("*"))
    found = levels(folder)
    assert {level for level, _ in found.values()} <= {"good", "note"}
    assert found["store"][0] == "note"
    assert found["plans"] == ("good", "1 valid, of 1 model")
    assert sorted(folder.rglob("*")) == before


def test_a_store_in_use_is_well_and_stays_as_it_was(folder: Path, shop: Shop, plan: Plan) -> None:
    """Reading, writing and version are told, and the row tried is not there afterwards."""
    measured(shop, plan)
    found = levels(folder)
    assert found["store"] == ("good", f"sqlite, version {len(STEPS)}, 1 readings")
    assert found["writing"][0] == "good"
    with open_store(shop.store_url) as store, store.reading() as connection:
        assert (
            connection.exec_driver_sql("SELECT count(*) FROM meta WHERE name LIKE '%doctor%'").scalar() == 0
        )


def test_every_problem_of_the_plans_is_told(folder: Path) -> None:
    """Two faults in a plan are two findings, each with its place."""
    path = folder / "plans" / "parlour-guitar.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace("18.0", '"x"').replace("0.10", "-1"), encoding="utf-8"
    )
    bad = [item for item in examine(folder, NOW) if item.level == "bad"]
    assert len(bad) >= 2
    assert all("parlour-guitar.toml:" in item.says for item in bad)


def test_a_shop_without_a_plan(folder: Path) -> None:
    """No plan at all is something to mend."""
    (folder / "plans" / "parlour-guitar.toml").unlink()
    assert levels(folder)["plans"][0] == "bad"


def test_a_clock_before_the_newest_reading(folder: Path, shop: Shop, plan: Plan) -> None:
    """A clock a day behind what it stamped is bad; a few minutes between two benches are not."""
    measured(shop, plan)
    with open_store(shop.store_url) as store, store.reading() as connection:
        stored = str(connection.exec_driver_sql("SELECT max(stored_at) FROM readings").scalar())
    newest = dt.datetime.fromisoformat(stored)
    assert levels(folder, newest - dt.timedelta(days=1))["clock"][0] == "bad"
    assert levels(folder, newest - dt.timedelta(minutes=2))["clock"][0] == "good"


def test_a_damaged_store(folder: Path, shop: Shop, plan: Plan) -> None:
    """A file that is no database is told with what to do."""
    measured(shop, plan)
    for path in folder.glob("readings.db*"):
        path.unlink()
    (folder / "readings.db").write_bytes(b"not a database, by any look at it" * 100)
    level, says = levels(folder)["store"]
    assert level == "bad"
    assert "restore it from a backup" in says


def test_a_store_of_a_newer_version(folder: Path, shop: Shop, plan: Plan) -> None:
    """A store written by a newer Dryfit is told."""
    measured(shop, plan)
    with open_store(shop.store_url) as store, store.writing() as connection:
        connection.exec_driver_sql("UPDATE meta SET value = '99' WHERE name = 'version'")
    level, says = levels(folder)["store"]
    assert level == "bad"
    assert "newer Dryfit" in says


def test_checks_due_failed_and_good(folder: Path, shop: Shop, plan: Plan) -> None:
    """A good check is good, a failed one bad, one never made a note."""
    measured(shop, plan)
    assert levels(folder)["check of CAL-1"][0] == "note"
    for reading, level in ((25.01, "good"), (25.20, "bad")):
        with open_store(shop.store_url) as store:
            body = {"reference": 25.0, "reading": reading, "session": str(reading)}
            store.add_event(
                BenchEvent(utc(NOW + dt.timedelta(seconds=reading)), "check", instrument="CAL-1", body=body)
            )
        assert levels(folder, NOW + dt.timedelta(hours=1))["check of CAL-1"][0] == level


def test_a_check_dated_ahead_is_told_as_that(folder: Path, shop: Shop, plan: Plan) -> None:
    """When the next is due is not known, so no day is named."""
    measured(shop, plan)
    with open_store(shop.store_url) as store:
        body = {"reference": 25.0, "reading": 25.0}
        store.add_event(BenchEvent(utc(NOW + dt.timedelta(days=9)), "check", instrument="CAL-1", body=body))
    level, says = levels(folder)["check of CAL-1"]
    assert level == "bad"
    assert "ahead of the clock" in says
    assert "due" not in says


def test_profiles_and_ports(folder: Path, tmp_path: Path) -> None:
    """No such profile is bad; a port not there is a note; a device and a socket there are good."""
    device = tmp_path / "tty"
    device.touch()
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        with (folder / "shop.toml").open("a", encoding="utf-8") as file:
            file.write(
                f'[instruments.A]\nprofile = "no-such"\nurl = "/dev/not-there"\n'
                f'[instruments.B]\nurl = "{device}"\n'
                f'[instruments.C]\nurl = "socket://127.0.0.1:{port}"\n[instruments.D]\nurl = "loop://"\n'
            )
        found = levels(folder)
    assert found["profile of A"][0] == "bad"
    assert found["port of A"][0] == "note"
    assert found["port of B"][0] == "good"
    assert found["port of C"][0] == "good"
    assert found["port of D"][0] == "note"
    assert found["port of CAL-1"] == ("good", "none: its readings are typed")


def test_a_port_that_may_not_be_opened(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A device without permission names the group to join."""
    device = tmp_path / "tty"
    device.touch()
    with (folder / "shop.toml").open("a", encoding="utf-8") as file:
        file.write(f'[instruments.B]\nurl = "{device}"\n')
    monkeypatch.setattr(os, "access", lambda *_: False)  # root may open every device
    level, says = levels(folder)["port of B"]
    assert level == "bad"
    assert "dialout" in says


def test_a_full_disk_and_a_missing_library(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Little room is bad; a library that is not installed is bad, an optional one a note."""
    monkeypatch.setattr(doctor, "LEAST_SPACE", 2**62)
    monkeypatch.setattr(doctor, "LIBRARIES", ("numpy", "no-such-library"))
    monkeypatch.setattr(doctor, "OPTIONAL", {"no-such-extra": "nothing"})
    found = examine(folder, NOW)
    bad = {item.about: item.says for item in found if item.level == "bad"}
    assert set(bad) == {"disk", "libraries"}
    assert "no-such-library" in bad["libraries"]
    assert [item.level for item in found if item.about == "no-such-extra"] == ["note"]


def test_a_store_on_postgresql(folder: Path, postgres: Callable[[], str], plan: Plan) -> None:
    """A database server is looked at alike; one that does not answer is told with what to do."""
    text = (folder / "shop.toml").read_text(encoding="utf-8")
    (folder / "shop.toml").write_text(f'store = "{postgres()}"\n{text}', encoding="utf-8")
    measured(load_shop(folder), plan)
    found = levels(folder)
    assert found["store"] == ("good", f"postgresql, version {len(STEPS)}, 1 readings")
    assert found["writing"][0] == "good"
    nowhere = 'store = "postgresql+psycopg://x@127.0.0.1:9/x"\n'
    (folder / "shop.toml").write_text(nowhere + text, encoding="utf-8")
    level, says = levels(folder)["store"]
    assert level == "bad"
    assert "cannot be reached" in says


def test_what_is_kept_while_the_server_is_gone(
    folder: Path, plan: Plan, reading: Callable[..., BenchReading]
) -> None:
    """Rows that wait and rows the server did not take are told, each with what to do."""
    text = (folder / "shop.toml").read_text(encoding="utf-8")
    nowhere = 'store = "postgresql+psycopg://x@127.0.0.1:9/x"\n'
    assert "spool.db" not in levels(folder)
    with Spool(folder / "spool.db") as spool:
        for number, build in enumerate(("PG-01", "PG-07")):
            spool.append(reading(number, build=build), plan)
        level, says = levels(folder)["spool.db"]  # the store is a file: nothing would ever take them
        assert (level, says[:10]) == ("bad", "2 rows nev")
        (folder / "shop.toml").write_text(nowhere + text, encoding="utf-8")
        level, says = levels(folder)["spool.db"]
        assert (level, says[:32]) == ("note", "2 rows not yet on the server: dr")
        for row, number in zip(spool.waiting_readings(), (5, 0), strict=True):
            spool.handed(row, number)
    level, says = levels(folder)["spool.db"]
    assert (level, says[:42]) == ("bad", "1 row of PG-07 not taken by the server: re")
