"""The addresses of pages, as links write them."""

from __future__ import annotations

from urllib.parse import quote, urlencode


def build_at(build: str) -> str:
    """The address of a build's own page."""
    return f"/build/{quote(build, safe='')}"


def builds_at(**asked: str) -> str:
    """Some of the builds: `model`, `verdict`, `bench`, `text` in the name, and `from` which on."""
    return _asking("/", **asked)


def drift_of(part: str, characteristic: str = "", station: str = "") -> str:
    """The address of a part's drift."""
    return _asking("/drift", part=part, characteristic=characteristic, station=station)


def bench_at(build: str = "", part: str = "") -> str:
    """Where a part of a build is read; where one is chosen without a build."""
    return _asking("/bench", build=build, part=part)


def glueup_at(build: str = "", part: str = "") -> str:
    """The gate of a build's parts, or of one."""
    return _asking("/glueup", build=build, part=part)


def decide_at(build: str, part: str, way: str = "", **air: str) -> str:
    """The screen on which gluing a part is decided; `way` "override" for a closed gate.

    `air` is the room's, where it was typed and not noted: `rh`, `temp`.
    """
    return _asking("/glueup/decide", build=build, part=part, way=way, **air)


def check_at(instrument: str) -> str:
    """Where an instrument is checked."""
    return _asking("/calipers/check", instrument=instrument)


def study_at(instrument: str) -> str:
    """Where the repeats of an instrument are studied."""
    return _asking("/calipers/study", instrument=instrument)


def plan_at(model: str = "", part: str = "", revision: str = "") -> str:
    """A part as its plan draws it."""
    return _asking("/plans", model=model, part=part, revision=revision)


def plan_edit_at(model: str, part: str, revision: str) -> str:
    """Where a part's plan is changed."""
    return _asking("/plans/edit", model=model, part=part, revision=revision)


def plan_new_at() -> str:
    """Where a plan of a new model is begun."""
    return "/plans/new"


def _asking(path: str, **asked: str) -> str:
    query = urlencode({name: value for name, value in asked.items() if value})
    return f"{path}?{query}" if query else path
