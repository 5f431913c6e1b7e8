"""What the address of the Bench page asks for, and the bench it names."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING
from urllib.parse import parse_qs, urlencode, urlsplit

from qa.bench.at_bench import Chosen

if TYPE_CHECKING:
    from qa.shop import Shop

PATH = "/bench"
TYPED_ONLY = "typed"
"""In the address, in place of an instrument's id: readings are typed and name no instrument."""


def asked_of(shop: Shop, query: Mapping[str, str]) -> Chosen:
    """The build, part, instrument and bench an address names; the usual instrument where it names none."""
    named = query.get("by", "")
    instrument = "" if named == TYPED_ONLY else named or usual_instrument(shop)
    told = (query.get(name, "").strip() for name in ("build", "part", "model", "bench", "machine"))
    return Chosen(instrument, *told)


def usual_instrument(shop: Shop) -> str:
    """The first instrument with a line, else the only one there is, else none."""
    lines = [name for name, item in shop.instruments.items() if item.url]
    return next(iter(lines or (shop.instruments if len(shop.instruments) == 1 else ())), "")


def bench_of(build: str = "", part: str = "", **more: str) -> str:
    """The address of the Bench page."""
    asked = {"build": build, "part": part, **more}
    query = urlencode({name: value for name, value in asked.items() if value})
    return f"{PATH}?{query}" if query else PATH


def part_at(address: str) -> tuple[str, str] | None:
    """The build and part that an address of the Bench page names; None where it is no such address."""
    split = urlsplit(address)
    asked = parse_qs(split.query)
    if split.path != PATH or not (asked.get("build") and asked.get("part")):
        return None
    return asked["build"][0].strip(), asked["part"][0].strip()
