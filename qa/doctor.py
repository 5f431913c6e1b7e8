"""Looks over a shop: its plans, store, instruments, clock and disk, and what it runs on."""

from __future__ import annotations

import datetime as dt
import os
import platform
import shutil
import socket
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Literal
from urllib.parse import urlsplit

from qa.errors import PlanError, QaError

if TYPE_CHECKING:
    from qa.calipers.standing import State
    from qa.shop import Shop
    from qa.store.store import Store

Level = Literal["good", "note", "bad"]
LIBRARIES = (
    "numpy", "scipy", "pandas", "pandera", "pyarrow", "openpyxl", "SQLAlchemy", "psycopg", "pyserial",
    "dash", "plotly", "uvicorn", "typer", "segno", "Jinja2",
)  # fmt: skip
OPTIONAL = {"weasyprint": "PDF of tickets: pip install 'dryfit[pdf]'"}
LEAST_SPACE = 200 * 1024**2
SLACK = dt.timedelta(minutes=5)
"""How far a clock may lie behind the newest row before something is wrong: two benches' clocks differ."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at, how it is, and what to do. Nothing needs doing about a note."""

    about: str
    level: Level
    says: str


def examine(folder: Path, now: dt.datetime | None = None) -> list[Finding]:
    """Everything that can be looked at in a shop's folder; a store that is not there yet is not made."""
    from qa.shop import load_shop

    at = now or dt.datetime.now(dt.UTC)
    found = [*_versions(), _space(folder)]
    try:
        shop = load_shop(folder)
    except PlanError as error:
        return [*found, *(Finding("plans", "bad", str(problem)) for problem in error.problems)]
    except QaError as error:
        return [*found, Finding("shop", "bad", str(error))]
    revisions = sum(map(len, shop.plans.values()))
    if shop.plans:
        told = f"{revisions} valid, of {len(shop.plans)} model{'s' if len(shop.plans) > 1 else ''}"
        found.append(Finding("plans", "good", told))
    else:
        found.append(Finding("plans", "bad", f"there is none in {folder / 'plans'}: write one"))
    found += _instruments(shop)
    found += _store(shop, at)
    found += _spool(shop)
    return found


def _versions() -> Iterator[Finding]:
    yield Finding(
        "python", "good", f"{platform.python_version()} on {platform.system()} {platform.machine()}"
    )
    yield Finding("dryfit", "good", _version("dryfit") or "not installed, run from its folder")
    versions = {name: _version(name) for name in LIBRARIES}
    missing = [name for name, version in versions.items() if version is None]
    if missing:
        yield Finding("libraries", "bad", f"not installed: {', '.join(missing)}; install dryfit again")
    told = ", ".join(f"{name} {version}" for name, version in versions.items() if version)
    yield Finding("libraries", "good", told)
    for name, use in OPTIONAL.items():
        version = _version(name)
        yield Finding(name, "good", version) if version else Finding(name, "note", f"not installed ({use})")


def _version(name: str) -> str | None:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return None


def _space(folder: Path) -> Finding:
    free = shutil.disk_usage(folder).free
    told = f"{free / 1024**3:.1f} GB free"
    if free < LEAST_SPACE:
        return Finding("disk", "bad", f"{told}: make room, or readings will soon not be stored")
    return Finding("disk", "good", told)


def _instruments(shop: Shop) -> Iterator[Finding]:
    for name, instrument in shop.instruments.items():
        yield from _profile(shop, name)
        if instrument.url is None:
            yield Finding(f"port of {name}", "good", "none: its readings are typed")
        else:
            yield _port(name, shop.line_url(instrument))


def _port(name: str, url: str) -> Finding:
    about = f"port of {name}"
    if "://" in url:
        return _remote(about, url)
    path = Path(url)
    if not path.exists():
        return Finding(about, "note", f"{url} is not there: plug it in, or find it with dryfit caliper ports")
    if not os.access(path, os.R_OK | os.W_OK):
        return Finding(about, "bad", f"{url} may not be opened by you: join its group, often dialout")
    return Finding(about, "good", url)


def _remote(about: str, url: str) -> Finding:
    at = urlsplit(url)
    if at.scheme not in ("socket", "rfc2217") or not at.hostname or not at.port:
        return Finding(about, "note", f"{url}: whether it is there shows only when it is opened")
    try:
        with socket.create_connection((at.hostname, at.port), timeout=2):
            return Finding(about, "good", url)
    except OSError as error:
        return Finding(about, "note", f"{url} does not answer ({error.strerror or error})")


def _profile(shop: Shop, name: str) -> Iterator[Finding]:
    from drivers.errors import DriverError
    from drivers.frames import load_profile

    instrument = shop.instruments[name]
    about = f"profile of {name}"
    try:
        load_profile(shop.profile_path(instrument))
    except DriverError as error:
        yield Finding(about, "bad", str(error))
    else:
        yield Finding(about, "good", instrument.profile)


def _store(shop: Shop, now: dt.datetime) -> Iterator[Finding]:
    from qa.store.store import open_store

    if shop.password_in_file:
        how = 'write store = "env:DRYFIT_STORE" and keep the address in that environment variable'
        yield Finding("password", "note", f"shop.toml holds the store's password for all to read: {how}")
    prefix = "sqlite:///"
    file = Path(shop.store_url.removeprefix(prefix)) if shop.store_url.startswith(prefix) else None
    if file is not None and not file.exists():
        yield Finding("store", "note", f"{file} is not there yet: the first reading makes it")
        return
    try:
        with open_store(shop.store_url) as store:
            yield from _opened(shop, store, now)
    except QaError as error:
        yield Finding("store", "bad", str(error))


def _opened(shop: Shop, store: Store, now: dt.datetime) -> Iterator[Finding]:
    from qa.calipers.status import standings

    yield _whole(store)
    yield _writable(store)
    yield _clock(store, now)
    for standing in standings(shop, store, now):
        yield _check(standing.state)


def _whole(store: Store) -> Finding:
    """Whether the store can be read, of which version it is, and that SQLite finds its file undamaged."""
    from sqlalchemy import text

    from qa.store.schema import stored_version

    with store.reading() as connection:
        version = stored_version(connection)
        rows = store.last_sequence(connection)
        wrong = []
        if store.engine.dialect.name == "sqlite":
            wrong = [
                str(row[0]) for row in connection.execute(text("PRAGMA quick_check(1)")) if row[0] != "ok"
            ]
    if wrong:
        return Finding("store", "bad", f"damaged ({wrong[0]}): restore it from a backup, dryfit restore FILE")
    return Finding("store", "good", f"{store.engine.dialect.name}, version {version}, {rows} readings")


def _spool(shop: Shop) -> Iterator[Finding]:
    """What a bench kept while the server was gone: rows that wait for it, and rows it did not take."""
    from qa.store.spool import FILE
    from qa.store.spool_file import Spool

    if not (shop.folder / FILE).exists():
        return
    try:
        spool = Spool(shop.folder / FILE)
        with spool:
            waiting, refused = spool.waiting(), spool.refused()
    except QaError as error:
        yield Finding(FILE, "bad", str(error))
        return
    if waiting and shop.store_url.startswith("postgresql"):
        how = "dryfit serve or measure hands them over as soon as the server answers"
        yield Finding(FILE, "note", f"{_rows(waiting)} not yet on the server: {how}")
    elif waiting:
        how = "name the server as store in shop.toml again, and start dryfit serve once"
        yield Finding(FILE, "bad", f"{_rows(waiting)} never came to the server they were kept for: {how}")
    if refused:
        builds = ", ".join(sorted({row.build for row in refused}))
        how = "read them again as a build of another name; then, with no bench running and none waiting"
        told = f"{_rows(len(refused))} of {builds} not taken by the server: {how}, move {FILE} elsewhere"
        yield Finding(FILE, "bad", told)
    if not waiting and not refused:
        yield Finding(FILE, "good", "all that was kept here is on the server")


def _rows(number: int) -> str:
    return f"{number} row{'' if number == 1 else 's'}"


class _TakeBack(Exception):  # noqa: N818 - a way out of the transaction, not an error
    pass


def _writable(store: Store) -> Finding:
    """Whether a row can be written, tried in a transaction that is taken back."""
    from sqlalchemy import insert

    from qa.store.schema import meta

    try:
        with store.writing() as connection:
            connection.execute(insert(meta).values(name="tried by doctor", value=""))
            raise _TakeBack
    except _TakeBack:
        return Finding("writing", "good", "a row was written and taken back")
    except QaError as error:
        return Finding("writing", "bad", str(error))


def _clock(store: Store, now: dt.datetime) -> Finding:
    """Whether the clock lies behind what it has already stamped."""
    from sqlalchemy import func, select

    from qa.store.schema import readings

    with store.reading() as connection:
        newest = connection.execute(
            select(func.max(readings.c.taken_at), func.max(readings.c.stored_at))
        ).one()
    latest = max((str(moment) for moment in newest if moment), default=None)
    if latest is not None and dt.datetime.fromisoformat(latest) - now > SLACK:
        return Finding(
            "clock",
            "bad",
            f"it says {now:%Y-%m-%d %H:%M} UTC, before the newest reading of {latest[:16]}: set it",
        )
    return Finding("clock", "good", f"{now:%Y-%m-%d %H:%M} UTC, not before the newest reading")


def _check(state: State) -> Finding:
    about = f"check of {state.instrument}"
    how = f"dryfit caliper check {state.instrument} --reference 25.00 --reading ..."
    if state.trust == "failed":
        return Finding(
            about, "bad", f"failed on {(state.checked_at or '')[:10]}: mend it and check again: {how}"
        )
    if state.trust == "overdue":
        return Finding(
            about, "bad", f"{state.instrument} {state.owed}, and no gate opens on its readings: {how}"
        )
    if state.trust == "never checked":
        return Finding(about, "note", f"never made: {how}")
    due = f", next on {state.due}" if state.due else ""
    return Finding(about, "good", f"good on {(state.checked_at or '')[:10]}{due}")
