"""What several benchmarks do alike: time a task, and fill a store."""

import datetime as dt
import sqlite3
import time
import timeit

from qa.record import BenchReading, utc
from qa.store.newest import how_many_builds
from qa.store.store import STORED, open_store, stored_row

BEGUN = dt.datetime(1990, 1, 1, tzinfo=dt.UTC)
A_BUILD = 40


def best(task, repeat=7, timer=time.process_time):
    """The shortest of several timings, in seconds of this process, so that a busy computer does not count."""
    return min(timeit.repeat(task, "gc.enable()", timer, repeat, number=1))


def bare_store(folder):
    """A bare connection to a store like ours: the same tables and indexes, the same forced commits."""
    open_store(f"sqlite:///{folder / 'bare.db'}").close()
    connection = sqlite3.connect(folder / "bare.db", isolation_level=None)
    connection.execute("PRAGMA synchronous=FULL")
    return connection


def commit_bare(connection, row):
    """One row, one commit."""
    marks = ", ".join("?" * len(row))
    connection.execute("BEGIN IMMEDIATE")
    connection.execute(f"INSERT INTO readings ({', '.join(STORED)}) VALUES ({marks})", row)  # noqa: S608
    connection.execute("COMMIT")


def fill(shop, store, *, builds=0, rows=0, leave=()):
    """Builds of all that the first plan reads but what is left out, begun before the demo's, to so many."""
    plan = next(iter(shop.plans.values()))[0]
    places = [
        (part.name, item.name, station.name, item.target or 0)
        for part in plan.parts.values()
        for item, station in part.to_read()
        if (part.name, item.name) != leave
    ]
    have = how_many_builds(store)
    lacking = max(builds - have, -(-(rows - store.last_sequence()) // len(places)))
    with store.writing() as connection:
        for build in range(have, have + lacking):
            name, at = f"X-{build:06d}", BEGUN + dt.timedelta(hours=20 * build)
            store.note_build(connection, name, plan)
            made = [
                BenchReading(
                    utc(at + dt.timedelta(seconds=n)), name, part, characteristic, station,
                    target + (build * 131 + n * 7919) % 520_000 - 260_000, instrument="CAL-1",
                    bench=("North", "South")[build % 2],
                )
                for n, (part, characteristic, station, target) in enumerate(places)
            ]  # fmt: skip
            store.append_rows(connection, [stored_row(row, plan.digest) for row in made])


def fill_by_number(store, plan, rows, made):
    """So many readings, forty to a build: the n-th is `made(n, build)`."""
    with store.writing() as connection:
        for start in range(0, rows, 50_000):
            some = []
            for n in range(start, min(start + 50_000, rows)):
                build = f"S-{n // A_BUILD:06d}"
                if n % A_BUILD == 0:
                    store.note_build(connection, build, plan)
                some.append(stored_row(made(n, build), plan.digest))
            store.append_rows(connection, some)
