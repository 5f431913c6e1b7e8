"""A bench that loses its server keeps measuring, and hands everything over once, in order."""

import datetime as dt
import os
import pwd
import shutil
import subprocess
import tempfile
import time
from decimal import Decimal
from pathlib import Path

import pytest
import sqlalchemy as sa

from drivers.reading import Reading
from qa.bench.capture import Bench
from qa.errors import ServerGone
from qa.instruments import Instrument
from qa.record import BenchEvent
from qa.store.spool import SpooledStore, open_at_bench
from qa.store.spool_file import EVENTS_FROM, READINGS_FROM
from qa.store.store import Store, open_store
from qa.store.verify import verify

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
pytestmark = pytest.mark.skipif(not PROGRAMS, reason="no PostgreSQL server is installed")


class Server:
    """A PostgreSQL of one test's own that can be stopped and started, by a socket."""

    def __init__(self, home):
        self.home = home
        as_user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        initdb, control = PROGRAMS[-1], PROGRAMS[-1].with_name("pg_ctl")
        made = [*as_user, str(initdb), "-D", f"{home}/data", "-A", "trust", "-U", "tests", "--no-sync"]
        subprocess.run(made, check=True, stdout=subprocess.DEVNULL, cwd="/")
        self.control = [*as_user, str(control), "-D", f"{home}/data", "-s", "-w"]
        self.url = f"postgresql+psycopg://tests@/postgres?host={home}"
        self.start()

    def start(self):
        """Start it, and wait until it answers."""
        settings = f"-k {self.home} -c listen_addresses= -c fsync=off -c max_connections=10"
        self._run("-o", settings, "-l", f"{self.home}/log", "start")

    def stop(self, how="immediate"):
        """Stop it as a power cut would."""
        self._run("-m", how, "stop")

    def _run(self, *words):
        subprocess.run([*self.control, *words], check=True, stdout=subprocess.DEVNULL, cwd="/")


@pytest.fixture(scope="module")
def running():
    """The server of this module."""
    home = Path(tempfile.mkdtemp(prefix="dryfit-gone-", dir="/tmp"))
    if os.geteuid() == 0:
        shutil.chown(home, pwd.getpwnam("postgres").pw_uid)
    made = Server(home)
    yield made
    made.stop()
    shutil.rmtree(home)


@pytest.fixture
def server(running):
    """The server, running, with no store in it."""
    yield running
    with sa.create_engine(running.url).connect() as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE")
        connection.exec_driver_sql("CREATE SCHEMA public")
        connection.commit()
    connection.engine.dispose()


@pytest.fixture
def store(server, tmp_path, monkeypatch):
    """A store on the server as a bench opens it."""
    monkeypatch.setattr("qa.store.spool.TRY_AGAIN_S", 0.1)
    with SpooledStore(server.url, tmp_path / "spool.db") as opened:
        yield opened


class Clock:
    """A clock that goes on by a second at every look."""

    now = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC)

    def __call__(self):
        self.now += dt.timedelta(seconds=1)
        return self.now


@pytest.fixture
def bench(store, plan):
    """The tail block of PG-01 at that bench."""
    return Bench(store, plan, plan.part("tail-block"), "PG-01", Instrument("CAL-1"), clock=Clock())


def take(bench, *values):
    """Take readings in millimetres at whatever place is due; gives the places."""
    places = []
    for value in values:
        places.append(bench.next_place().name)
        bench.take(Reading(Decimal(str(value)), "mm", f"{value} mm"))
    return places


def until(what):
    """Wait until something is true."""
    for _ in range(300):
        if what():
            return
        time.sleep(0.05)
    raise AssertionError("it never came true")


def on_server(server):
    """Every reading there is on the server, as another bench sees them."""
    with open_store(server.url) as other:
        assert verify(other).whole
        return other.readings()


def test_a_part_read_across_the_loss_of_the_server(server, store, bench):
    """Stopped in the middle of a part and started again: nothing is lost, doubled or reordered."""
    asked = take(bench, 18.01, 18.02)
    server.stop()
    asked += take(bench, 18.03, 18.04, 0.05)
    told = store.news()
    assert told[-1] == "server gone: kept here, 3 waiting"
    assert store.waiting() == 3
    asked += take(bench, 18.05)
    server.start()
    until(lambda: store.waiting() == 0)
    assert "4 handed over" in store.news()
    asked += take(bench, 18.06)
    places = ["bottom-left", "bottom-right", "top-left", "top-right"]
    first = [f"thickness {name}" for name in places]
    assert asked == [*first, "squareness", *first[:2]]
    rows = on_server(server)
    assert [row.value for row in rows] == [18.01, 18.02, 18.03, 18.04, 0.05, 18.05, 18.06]
    assert [f"{row.characteristic} {row.station}".strip() for row in rows] == asked
    assert max(row.sequence for row in rows) < READINGS_FROM


def test_what_was_corrected_and_undone_meanwhile(server, store, bench):
    """Corrections name the server's numbers once there: of rows before the loss, and of rows within it."""
    take(bench, 18.01)
    server.stop()
    bench.undo()
    take(bench, 18.02, 18.03)
    bench.undo()
    bench.skip("wet")
    bench.read_again()
    take(bench, 18.04)
    before = [(row.value, row.station) for row in bench.holding() if row.millionths]
    place = bench.next_place().name
    server.start()
    until(lambda: store.waiting() == 0)
    rows = on_server(server)
    assert [row.corrects for row in rows] == [None, 1, None, None, 4, 3]
    assert [(row.value, row.station) for row in bench.holding() if row.millionths] == before
    assert bench.next_place().name == place
    assert len(bench.skipped()) == 1


def test_a_mark_taken_back_after_the_server_came_back(server, store, bench):
    """An event of the spool is named by the server's number once it is there."""
    server.stop()
    bench.skip("wet")
    skipped = bench.skipped()[0]
    assert skipped.sequence > EVENTS_FROM
    server.start()
    until(lambda: store.waiting() == 0)
    store.add_event(BenchEvent("2025-03-02T00:00:00.000000Z", "skip taken back", "PG-01", "tail-block",
                               body={"of": skipped.sequence}))  # fmt: skip
    assert bench.skipped() == []


@pytest.mark.parametrize("after", range(4))
def test_handing_over_is_cut_off_at_any_point(server, store, bench, monkeypatch, after):
    """The bench dies between the server's commit and its own note: begun again, each row is there once."""
    take(bench, 18.01)
    server.stop()
    take(bench, 18.02, 18.03)
    bench.skip("wet")
    take(bench, 0.05)
    store.close()  # before the server is back: the spool is all there is
    server.start()
    kept = store.waiting()
    assert kept == 4
    done = []

    def die(spool, row, sequence):
        if len(done) == after:
            raise KeyboardInterrupt
        done.append(row)
        original(spool, row, sequence)

    from qa.store.spool_file import Spool

    original = Spool.handed
    with monkeypatch.context() as patch:
        patch.setattr(Spool, "handed", die)
        with pytest.raises(KeyboardInterrupt):
            SpooledStore(server.url, store._path)
    with SpooledStore(server.url, store._path) as again:
        assert again.news() == [f"{kept - after} handed over"]
        assert again.waiting() == 0
        assert [row.value for row in again.readings()] == [18.01, 18.02, 18.03, 0.05]
        assert len(again.events("skip")) == 1


def test_a_bench_started_while_the_server_is_gone(server, folder, plan):
    """It begins its part, keeps what it reads, and hands it over when it is started the next time."""
    path = folder / "shop.toml"
    path.write_text(f'store = "{server.url}"\n{path.read_text()}')
    from qa.shop import load_shop

    shop = load_shop(folder)
    server.stop()
    with open_at_bench(shop) as store:
        begun = Bench(store, plan, plan.part("side"), "PG-02", Instrument("CAL-1"), clock=Clock())
        take(begun, 1.9)
        assert begun.next_place().name == "moisture"
    server.start()
    assert (folder / "spool.db").exists()
    with open_at_bench(shop) as store:
        assert store.news() == ["1 handed over"]
    assert [row.build for row in on_server(server)] == ["PG-02"]


def test_a_row_the_server_refuses_is_kept_and_told(server, store, plan, reading):
    """A build begun there as another model meanwhile: its row stays here, the others go on."""
    from qa.plans.plan import read_plan

    store.append(reading(0), plan)
    server.stop()
    store.append(reading(1, build="PG-07"), plan)
    store.append(reading(2), plan)
    store.close()
    server.start()
    other = read_plan(plan.text.replace("parlour-guitar", "octave-mandolin"), "other.toml")
    with open_store(server.url) as another:
        another.append(reading(3, build="PG-07"), other)
    with SpooledStore(server.url, store._path) as again:
        assert again.waiting() == 0
        assert any("PG-07 was begun as 'octave-mandolin'" in line for line in again.news())
    assert [(row.build, row.taken_at) for row in on_server(server) if row.build == "PG-01"] == [
        ("PG-01", reading(n).taken_at) for n in (0, 2)
    ]


def test_what_needs_the_server_says_that_it_is_gone(server, store, plan, reading):
    """A question the bench cannot answer raises; nothing is made up."""
    store.append(reading(0), plan)
    server.stop()
    try:
        with pytest.raises(ServerGone, match="server"):
            store.builds()
        with pytest.raises(ServerGone):
            Store.append(store, reading(1), plan)
    finally:
        server.start()


def test_a_store_in_a_file_needs_no_spool(shop):
    """SQLite has no server that could go away."""
    with open_at_bench(shop) as store:
        assert type(store) is Store
        assert (store.waiting(), store.news()) == (0, [])
