"""A bench that loses its server keeps measuring, and hands everything over once, in order."""

import datetime as dt
import threading
import time
from dataclasses import replace
from decimal import Decimal

import pytest
import sqlalchemy as sa

from drivers.reading import Reading
from qa.bench.capture import Bench
from qa.errors import PlanError, PlanProblem, ServerGone, StoreError
from qa.instruments import Instrument
from qa.record import BenchEvent
from qa.store.spool import SpooledStore, open_at_bench
from qa.store.spool_file import EVENTS_FROM, READINGS_FROM, fits
from qa.store.store import Store, open_store
from qa.store.verify import verify


@pytest.fixture
def url(server):
    """The address of an empty store on the server."""
    return server.fresh()


@pytest.fixture
def store(url, tmp_path, monkeypatch):
    """A store on the server as a bench opens it."""
    monkeypatch.setattr("qa.store.spool.TRY_AGAIN_S", 0.1)
    with SpooledStore(url, tmp_path / "spool.db") as opened:
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


def on_server(url):
    """Every reading there is on the server, as another bench sees them."""
    with open_store(url) as other:
        assert verify(other).whole
        return other.readings()


def test_a_part_read_across_the_loss_of_the_server(server, url, store, bench):
    """Stopped in the middle of a part and started again: nothing is lost, doubled or reordered."""
    asked = take(bench, 18.01, 18.02)
    server.stop()
    asked += take(bench, 18.03, 18.04, 0.05)
    told = store.news()
    assert told == [
        "the server cannot be reached; readings are kept here (3) and handed over when it is back"
    ]
    assert store.kept_here() == told[-1]
    assert store.waiting() == 3
    asked += take(bench, 18.05)
    server.start()
    until(lambda: store.kept_here() == "")
    assert store.news()[-1] == "the server is back; readings handed over: 4"
    assert store.waiting() == 0
    asked += take(bench, 18.06)
    places = ["bottom-left", "bottom-right", "top-left", "top-right"]
    first = [f"thickness {name}" for name in places]
    assert asked == [*first, "squareness", *first[:2]]
    rows = on_server(url)
    assert [row.value for row in rows] == [18.01, 18.02, 18.03, 18.04, 0.05, 18.05, 18.06]
    assert [f"{row.characteristic} {row.station}".strip() for row in rows] == asked
    assert max(row.sequence for row in rows) < READINGS_FROM


def test_what_was_corrected_and_undone_meanwhile(server, url, store, bench):
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
    rows = on_server(url)
    assert [row.corrects for row in rows] == [None, 1, None, None, 4, 3]
    assert [(row.value, row.station) for row in bench.holding() if row.millionths] == before
    assert bench.next_place().name == place
    assert len(bench.skipped()) == 1


def test_a_mark_taken_back_after_the_server_came_back(server, url, store, bench):
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


def test_the_server_is_lost_a_second_time(server, url, store, bench):
    """What was handed over after the first loss is not taken for new rows in the second."""
    take(bench, 18.01)
    for value in (18.02, 18.03):
        server.stop()
        take(bench, value)
        bench.undo()
        bench.skip("wet")
        bench.read_again()
        take(bench, value + 0.1)
        before = [(row.value, row.station) for row in bench.holding() if row.millionths]
        held = len(bench.skipped()), bench.next_place().name
        server.start()
        until(lambda: store.waiting() == 0)
        assert [(row.value, row.station) for row in bench.holding() if row.millionths] == before
        assert (len(bench.skipped()), bench.next_place().name) == held
    rows = on_server(url)
    assert [row.value for row in rows if row.millionths] == [18.01, 18.02, 18.12, 18.03, 18.13]


def test_a_long_load_keeps_no_bench_waiting(url, store, bench):
    """While another program writes the bench goes on by its spool, and says why; then all is handed over."""
    take(bench, 18.01)
    store.wait_ms = 100
    with open_store(url) as other, other.writing():
        begun = time.monotonic()
        take(bench, 18.02, 18.03)
        assert time.monotonic() - begun < 10
        assert store.kept_here().startswith(
            "another program keeps the server busy; readings are kept here (2)"
        )
    until(lambda: store.kept_here() == "")
    assert store.news()[-1] == "the server is back; readings handed over: 2"
    assert [row.value for row in on_server(url)] == [18.01, 18.02, 18.03]


def test_a_server_lost_again_as_soon_as_it_is_found(url, store, bench, monkeypatch):
    """Though the search that found it has not quite ended, it is looked for anew."""
    found, lost, original = threading.Event(), threading.Event(), SpooledStore.hand_over

    def lingering(self):
        count = original(self)
        found.set()
        lost.wait(30)
        return count

    monkeypatch.setattr(SpooledStore, "hand_over", lingering)
    take(bench, 18.01)
    store.wait_ms = 100
    with open_store(url) as other:
        with other.writing():
            take(bench, 18.02)
        assert found.wait(30)
        with other.writing():
            take(bench, 18.03)
            assert store.gone
            lost.set()
    until(lambda: not store.gone)
    assert [row.value for row in on_server(url)] == [18.01, 18.02, 18.03]


def test_a_row_stored_while_another_thread_reads(tmp_path, monkeypatch, reading):
    """At the moment the server comes back the one has it already, the other reads what is remembered."""
    rows = [reading(n, sequence=n) for n in range(1, 4)]
    with SpooledStore("postgresql+psycopg://nobody@127.0.0.1:1/none", tmp_path / "spool.db") as store:
        store._mine.extend(rows[:2])

        def fits_late(*asked):
            store._mine.append(rows[2])
            return fits(*asked)

        monkeypatch.setattr("qa.store.spool.fits", fits_late)
        assert store.readings("PG-01") == rows[:2]
        assert store.readings("PG-01") == rows


def test_two_programs_of_one_bench(server, url, store, bench, plan):
    """Both keep their rows in one spool, know each other's, and each row is handed over once."""
    with SpooledStore(url, store._path) as other:
        second = Bench(other, plan, plan.part("tail-block"), "PG-01", Instrument("CAL-1"), clock=bench.clock)
        server.stop()
        take(bench, 18.01)
        take(second, 18.02)
        take(bench, 18.03)
        assert [row.value for row in second.rows()] == [18.01, 18.02, 18.03]
        server.start()
        until(lambda: store.kept_here() == other.kept_here() == "")
    assert [row.value for row in on_server(url)] == [18.01, 18.02, 18.03]


@pytest.mark.parametrize("after", range(4))
def test_handing_over_is_cut_off_at_any_point(server, url, store, bench, monkeypatch, after):
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
            SpooledStore(url, store._path)
    with SpooledStore(url, store._path) as again:
        assert len(again.news()) == (after < kept)
        assert again.waiting() == 0
        assert [row.value for row in again.readings()] == [18.01, 18.02, 18.03, 0.05]
        assert len(again.events("skip")) == 1


def test_a_bench_started_while_the_server_is_gone(server, url, folder, plan):
    """It begins its part, keeps what it reads, and hands it over when it is started the next time."""
    path = folder / "shop.toml"
    path.write_text(f'store = "{url}"\n{path.read_text()}')
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
        assert store.news() == ["the server is back; readings handed over: 1"]
    assert [row.build for row in on_server(url)] == ["PG-02"]


def test_a_row_the_server_refuses_is_kept_and_told(server, url, store, plan, reading):
    """A build begun there as another model meanwhile: its row stays here, the others go on."""
    from qa.plans.plan import read_plan

    store.append(reading(0), plan)
    server.stop()
    store.append(reading(1, build="PG-07"), plan)
    store.append(reading(2), plan)
    store.close()
    server.start()
    other = read_plan(plan.text.replace("parlour-guitar", "octave-mandolin"), "other.toml")
    with open_store(url) as another:
        another.append(reading(3, build="PG-07"), other)
    with SpooledStore(url, store._path) as again:
        assert again.waiting() == 0
        assert any("PG-07 was begun as 'octave-mandolin'" in line for line in again.news())
    assert [(row.build, row.taken_at) for row in on_server(url) if row.build == "PG-01"] == [
        ("PG-01", reading(n).taken_at) for n in (0, 2)
    ]


def test_a_row_the_server_can_never_take_holds_up_no_other(server, url, store, plan, reading):
    """PostgreSQL keeps no text with a NUL in it, SQLite does."""
    server.stop()
    store.append(reading(1, note="a\0b"), plan)
    store.append(reading(2), plan)
    server.start()
    until(lambda: not store.gone)
    assert store.waiting() == 0
    assert "not taken by the server, kept in spool.db" in store.kept_here()
    assert [row.taken_at for row in on_server(url)] == [reading(2).taken_at]


def test_a_plan_this_program_cannot_read_holds_nothing_up(server, url, store, plan, reading):
    """As another version may have written it: its text and the row under it reach the server as they are."""
    newer = replace(plan, text=f"{plan.text}\n[from-later]\n", digest="0" * 64)
    server.stop()
    store.append(reading(1), newer)
    assert store.plan_text(newer.digest) == newer.text
    server.start()
    until(lambda: not store.gone)
    assert [row.plan for row in on_server(url)] == [newer.digest]
    assert store.itself().plan_text(newer.digest) == newer.text


@pytest.mark.parametrize(
    "error",
    [
        StoreError("the disk is full"),
        PlanError([PlanProblem("a.toml", 1, "unit", "is missing")]),
        PermissionError(13, "Permission denied"),
        sa.exc.ResourceClosedError("This result is closed"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_no_error_ends_the_search_for_the_server(server, url, store, bench, monkeypatch, error):
    """It is told, once, with the rows that wait, and the server is looked for until it has them."""
    tried = []

    def hindered(engine):
        tried.append(engine)
        raise error

    take(bench, 18.01)
    with monkeypatch.context() as patched:
        patched.setattr("qa.store.spool.ensure_tables", hindered)
        server.stop()
        take(bench, 18.02)
        server.start()
        until(lambda: len(tried) > 2)
    assert "readings are kept here (1)" in store.kept_here()
    assert str(error) in store.kept_here()
    assert sum(str(error) in line for line in store.news()) == 1
    until(lambda: store.kept_here() == "")
    assert [row.value for row in on_server(url)] == [18.01, 18.02]


def test_a_spool_that_fails_just_as_the_server_is_lost(server, url, store, bench, monkeypatch):
    """What stands in the way is said; the server is looked for all the same."""
    take(bench, 18.01)
    store._own()
    known = iter((0, 0))  # of readings and of events, before the server is asked

    def waiting_of(spool, kind):
        for count in known:
            return count
        raise StoreError("the store is in use by another program")

    with monkeypatch.context() as patched:
        patched.setattr("qa.store.spool_file.Spool.waiting_of", waiting_of)
        server.stop()
        with pytest.raises(StoreError, match="in use by another program"):
            take(bench, 18.02)
    server.start()
    until(lambda: not store.gone)
    take(bench, 18.02)
    assert [row.value for row in on_server(url)] == [18.01, 18.02]


FULL = """
CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE 'could not extend file: No space left on device' USING ERRCODE = 'disk_full'; END $$;
CREATE TRIGGER full_disk BEFORE INSERT ON readings FOR EACH ROW EXECUTE FUNCTION full_disk();
"""


def test_a_server_that_takes_nothing_for_now_is_given_every_row_later(server, url, store, bench):
    """Its disk is full when it comes back: no row is given up for that, also by a bench begun meanwhile."""
    take(bench, 18.01)
    with open_store(url) as other, other.writing() as connection:
        connection.exec_driver_sql(FULL)
    server.stop()
    take(bench, 18.02, 18.03)
    server.start()
    until(lambda: "No space left" in store.kept_here())
    with SpooledStore(url, store._path) as begun:
        assert (begun.gone, begun.waiting()) == (True, 2)
    with open_store(url) as other, other.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER full_disk ON readings")
    until(lambda: store.kept_here() == "")
    assert [row.value for row in on_server(url)] == [18.01, 18.02, 18.03]


def test_what_needs_the_server_says_that_it_is_gone(server, url, store, plan, reading):
    """A question the bench cannot answer raises; nothing is made up."""
    store.append(reading(0), plan)
    server.stop()
    try:
        with pytest.raises(ServerGone, match="server"):
            store.builds()
        assert store.readings()  # notices that it is gone
        with pytest.raises(ServerGone, match="this needs the server"):
            store.itself()
        with pytest.raises(ServerGone):
            Store.append(store, reading(1), plan)
    finally:
        server.start()


def test_a_store_in_a_file_needs_no_spool(shop):
    """SQLite has no server that could go away."""
    with open_at_bench(shop) as store:
        assert type(store) is Store
        assert (store.waiting(), store.news()) == (0, [])
