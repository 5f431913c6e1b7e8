"""A small shop, its store on SQLite and on a PostgreSQL of the tests' own, and logs of its readings."""

import datetime as dt
import functools
import os
import pwd
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
import typer.main
from hypothesis import settings

from qa.plans.plan import Plan, read_plan
from qa.record import BenchReading
from qa.shop import Shop, load_shop
from qa.store.store import Store, open_store

# A property says what holds, not how fast; times are for the benchmarks.
settings.register_profile("house", deadline=None)
settings.load_profile("house")
# A program makes its commands once; so do the tests, which run it a thousand times in one process.
typer.main.get_command = functools.cache(typer.main.get_command)

FIRST = ("tests/faults", "tests/test_wheel.py", "tests/browser", "tests/test_tour.py", "tests/cli")
HEADER = "taken_at,build,part,characteristic,station,value,unit,instrument"
STATIONS = ("bottom-left", "bottom-right", "top-left", "top-right")
PLAN = """\
model = "parlour-guitar"
unit = "mm"

[reference]
rh_percent = 45
temp_c = 21
glue_rh_percent = [40, 50]

[parts.tail-block]
title = "Tail block"
species = "spanish cedar"
grain = { thickness = "radial", width = "tangential", length = "longitudinal" }

[parts.tail-block.characteristics.thickness]
kind = "thickness"
target = 18.0
tolerance = 0.15
stations = { bottom-left = [0, 0], bottom-right = [60, 0], top-left = [0, 90], top-right = [60, 90] }

[parts.tail-block.characteristics.taper]
kind = "taper"
of = "thickness"
limit = 0.10

[parts.tail-block.characteristics.squareness]
kind = "squareness"
blade_length = 75
over = 60
limit = 0.15

[parts.side]
title = "Side"

[parts.side.characteristics.thickness]
kind = "thickness"
target = 1.9
tolerance = 0.1
stations = { waist = [0, 0] }

[parts.side.characteristics.moisture]
kind = "moisture"
target = 8.0
tolerance = 1.5
"""
SHOP = """\
name = "A shop of the tests"
unit = "mm"
timezone = "UTC"

[instruments.CAL-1]
resolution = 0.01
max_permissible_error = 0.03
repeatability = 0.01

[instruments.CAL-2]
"""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes longest begins first, so that two workers end together."""
    items.sort(
        key=lambda item: next((n for n, at in enumerate(FIRST) if item.nodeid.startswith(at)), len(FIRST))
    )


@pytest.fixture
def plan_text() -> str:
    """The plan of the small shop as its file holds it."""
    return PLAN


@pytest.fixture
def plan() -> Plan:
    """The plan of the small shop."""
    return read_plan(PLAN, "parlour-guitar.toml")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A shop folder with one plan and no readings yet."""
    made = tmp_path / "shop"
    (made / "plans").mkdir(parents=True)
    (made / "shop.toml").write_text(SHOP, encoding="utf-8")
    (made / "plans" / "parlour-guitar.toml").write_text(PLAN, encoding="utf-8")
    return made


@pytest.fixture
def shop(folder: Path) -> Shop:
    """The small shop."""
    return load_shop(folder)


class Server:
    """A PostgreSQL cluster of the tests' own, by a socket, that can be stopped and started."""

    def __init__(self) -> None:
        found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
        if not found:
            pytest.skip("no PostgreSQL server is installed")
        self.home = Path(tempfile.mkdtemp(prefix="dryfit-pg-", dir="/tmp"))  # a socket's path is short
        as_user: list[str] = []
        if os.geteuid() == 0:  # a server refuses to run as root
            shutil.chown(self.home, pwd.getpwnam("postgres").pw_uid)
            as_user = ["runuser", "-u", "postgres", "--"]
        made = [*as_user, str(found[-1]), "-D", f"{self.home}/data", "-A", "trust", "-U", "tests"]
        subprocess.run([*made, "-E", "UTF8", "--no-sync"], check=True, stdout=subprocess.DEVNULL, cwd="/")
        control = str(found[-1].with_name("pg_ctl"))
        self.control = [*as_user, control, "-D", f"{self.home}/data", "-s", "-w"]
        self.url = f"postgresql+psycopg://tests@/postgres?host={self.home}"
        self.start()

    def start(self) -> None:
        """Start it, unless it runs, and wait until it answers."""
        if not (self.home / "data" / "postmaster.pid").exists():
            settings = f"-k {self.home} -c listen_addresses= -c fsync=off -c max_connections=30"
            self._run("-o", settings, "-l", f"{self.home}/log", "start")

    def stop(self) -> None:
        """Stop it as a power cut would."""
        self._run("-m", "immediate", "stop")

    def fresh(self) -> str:
        """The address of an empty store: a schema of its own."""
        name = f"t{uuid.uuid4().hex}"
        admin = sa.create_engine(self.url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
        with admin.connect() as connection:
            connection.exec_driver_sql(f"CREATE SCHEMA {name}")
        return f"{self.url}&options=-csearch_path%3D{name}"

    def _run(self, *words: str) -> None:
        subprocess.run([*self.control, *words], check=True, stdout=subprocess.DEVNULL, cwd="/")


def _server() -> Iterator[Server]:
    made = Server()
    yield made
    made.stop()
    shutil.rmtree(made.home)


@pytest.fixture(scope="session")
def postgres(_postgres: Server) -> Callable[[], str]:
    """Makes a fresh schema in a PostgreSQL cluster of the tests' own, by a socket; gives its URL."""
    return _postgres.fresh


_postgres = pytest.fixture(_server, scope="session", name="_postgres")
_stopped = pytest.fixture(_server, scope="session", name="_stopped")


@pytest.fixture
def server(_stopped: Server) -> Iterator[Server]:
    """Another cluster, running, that the test may stop; it is started again after it."""
    _stopped.start()
    yield _stopped
    _stopped.start()


@pytest.fixture(params=["sqlite", "postgresql"])
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The address of an empty store: once SQLite, once PostgreSQL."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'store.db'}"
    made: str = request.getfixturevalue("postgres")()
    return made


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    """An open, empty store: once SQLite, once PostgreSQL."""
    with open_store(store_url) as opened:
        yield opened


@pytest.fixture
def sqlite_store(tmp_path: Path) -> Iterator[Store]:
    """An open, empty store on SQLite, where the database makes no difference."""
    with open_store(f"sqlite:///{tmp_path / 'store.db'}") as opened:
        yield opened


@pytest.fixture
def reading() -> Callable[..., BenchReading]:
    """Makes a reading of the small shop; `second` sets its time, so that each is another one."""

    def make(second: int = 0, value: float = 18.0, **fields: object) -> BenchReading:
        moment = dt.datetime(2025, 3, 1, 9, tzinfo=dt.UTC) + dt.timedelta(seconds=second)
        given: dict[str, object] = {
            "taken_at": moment.strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
            "build": "PG-01",
            "part": "tail-block",
            "characteristic": "thickness",
            "station": STATIONS[second % 4],
            "millionths": round(value * 1_000_000),
            "instrument": "CAL-1",
        }
        return BenchReading(**{**given, **fields})  # type: ignore[arg-type]

    return make


@pytest.fixture
def log(tmp_path: Path) -> Callable[..., Path]:
    """Writes a log: rows of text under a header, as CSV in UTF-8."""

    def write(*rows: str, name: str = "log.csv", header: str = HEADER, end: str = "\n") -> Path:
        path = tmp_path / name
        path.write_bytes(("\n".join((header, *rows)) + end).encode())
        return path

    return write


@pytest.fixture
def good_row() -> Callable[..., str]:
    """A row of a log that loads; each number gives another reading."""

    def make(number: int = 0, build: str = "PG-01", value: str = "18.02", unit: str = "mm") -> str:
        moment = dt.datetime(2025, 3, 1, 9) + dt.timedelta(seconds=30 * number)  # noqa: DTZ001 - as a log has it
        place = f"tail-block,thickness,{STATIONS[number % 4]}"
        return f"{moment.isoformat()},{build},{place},{value},{unit},CAL-1"

    return make
