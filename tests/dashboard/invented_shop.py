"""Invented shops for the tests of the dashboard: two models, a few builds, every verdict."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from qa.record import BenchReading, utc
from qa.shop import load_shop
from qa.store.store import open_store

SHOP = """
name = "Trial shop (invented)"
unit = "{unit}"
[instruments.CAL-1]
resolution = 0.01
max_permissible_error = 0.02
repeatability = 0.01
"""
PLAN = """
model = "{model}"
unit = "mm"
[parts.tail-block]
title = "Tail block"
[parts.tail-block.characteristics.thickness]
kind = "thickness"
target = 22.0
tolerance = 0.25
stations = {{ top = [0, 74], bottom = [0, 0] }}
[parts.tail-block.characteristics.taper]
kind = "taper"
of = "thickness"
limit = 0.15
[parts.brace]
title = "Brace"
[parts.brace.characteristics.width]
kind = "width"
target = 8.0
tolerance = 0.15
stations = {{ middle = [0, 0] }}
"""
MODELS = ("travel-guitar", "lap-harp")
DEVIATIONS = (0.0, 0.02, -0.03, 0.05, 0.14, 0.21)
"""Of the brace's width, millimetres, build by build: four conform, one is undecided, one does not conform."""
BEGUN = dt.datetime(2025, 3, 3, 9, 0, tzinfo=dt.UTC)


def empty_shop(folder: Path, unit: str = "mm") -> Path:
    """A shop with two plans and no reading."""
    (folder / "plans").mkdir(parents=True)
    (folder / "shop.toml").write_text(SHOP.format(unit=unit))
    for model in MODELS:
        (folder / "plans" / f"{model}.toml").write_text(PLAN.format(model=model))
    return folder


def full_shop(folder: Path, unit: str = "mm") -> Path:
    """Six builds of the first model, TG-1 to TG-6, and LH-1 of the second, its brace not measured."""
    shop = load_shop(empty_shop(folder, unit))
    with open_store(shop.store_url) as store:
        for number, deviation in enumerate(DEVIATIONS, 1):
            for place, value in (
                (("tail-block", "thickness", "top"), 22.02),
                (("tail-block", "thickness", "bottom"), 22.0),
                (("brace", "width", "middle"), 8.0 + deviation),
            ):
                store.append(_row(f"TG-{number}", *place, value, number), shop.plan(MODELS[0]))
        store.append(_row("LH-1", "tail-block", "thickness", "top", 22.4, 9), shop.plan(MODELS[1]))
    return folder


def faulty_shop(folder: Path) -> Path:
    """A shop whose first plan has a misspelt key and an unknown kind."""
    empty_shop(folder)
    plan = folder / "plans" / f"{MODELS[0]}.toml"
    plan.write_text(plan.read_text().replace("limit = 0.15", "limmit = 0.15").replace('"width"', '"girth"'))
    return folder


def read(
    folder: Path, build: str, model: str, part: str, characteristic: str, station: str, value: float, day: int
) -> None:
    """Append one reading, as another program would."""
    shop = load_shop(folder)
    with open_store(shop.store_url) as store:
        store.append(_row(build, part, characteristic, station, value, day), shop.plan(model))


def _row(build: str, part: str, characteristic: str, station: str, value: float, day: int) -> BenchReading:
    return BenchReading(
        taken_at=utc(BEGUN + dt.timedelta(days=day)),
        build=build,
        part=part,
        characteristic=characteristic,
        station=station,
        millionths=round(value * 1_000_000),
        instrument="CAL-1",
        bench="North" if day % 2 else "South",
    )
