"""Makes the invented demo shop: its plans, its two years of readings, and its diary."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import tomlkit

from qa.errors import LogError, ShopError
from qa.logs.loading import Loaded, load
from qa.record import BenchEvent, utc
from qa.shop import FILE, load_shop
from qa.store.store import open_store

CALIPER = "CAL-1"
LINE = "make-believe-caliper"
LOGS = ("year-1.csv", "year-2.csv")
DIARY = "diary.csv"
_EVENT_TEXT = ("kind", "build", "part", "characteristic", "station", "instrument", "text", "by")


@dataclass(frozen=True, slots=True)
class Demo:
    """A demo shop on the disk: its folder, the line of its make-believe caliper, and what was loaded."""

    folder: Path
    line: Path
    loaded: Loaded


def sample_logs() -> Path:
    """Where the invented logs are: inside an installed package, or beside it in a checkout."""
    inside = Path(str(resources.files("qa"))) / "sample_logs"
    return inside if inside.is_dir() else inside.parent.parent / "sample_logs"


def make_demo(folder: Path) -> Demo:
    """Make the demo shop in a folder, or bring the one that is there up to date; a second time adds nothing.

    ShopError where the folder holds another shop or cannot be written.
    """
    source = sample_logs()
    _copy(source, folder)
    shop = load_shop(folder)
    with open_store(shop.store_url) as store:
        loaded = load([source / name for name in LOGS], shop, store)
        if loaded.problems:
            raise LogError(loaded.problems)
        if not store.events():
            for event in diary(source / DIARY):
                store.add_event(event)
    return Demo(folder, folder / LINE, loaded)


def _copy(source: Path, folder: Path) -> None:
    ours = tomlkit.parse((source / FILE).read_text(encoding="utf-8"))
    try:
        if (folder / FILE).exists():
            if tomlkit.parse((folder / FILE).read_text(encoding="utf-8")).get("name") != ours["name"]:
                raise ShopError(f"{folder} holds another shop; name another folder: dryfit demo FOLDER")
            return
        (folder / "plans").mkdir(parents=True, exist_ok=True)
        for plan in sorted((source / "plans").glob("*.toml")):
            shutil.copyfile(plan, folder / "plans" / plan.name)
        ours["instruments"][CALIPER]["url"] = LINE
        (folder / FILE).write_text(tomlkit.dumps(ours), encoding="utf-8")
    except OSError as error:
        raise ShopError(f"{folder} cannot be written: {error.strerror}; name another folder") from error


def diary(path: Path) -> Iterator[BenchEvent]:
    """The events of a diary in CSV; every further column that is filled goes into the body."""
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            yield _event(row)


def _event(row: Mapping[str, str]) -> BenchEvent:
    text: dict[str, Any] = {name: row.get(name, "") for name in _EVENT_TEXT}
    body = {name: value for name, value in row.items() if value and name not in (*_EVENT_TEXT, "at")}
    return BenchEvent(utc(dt.datetime.fromisoformat(row["at"])), **text, body=body)
