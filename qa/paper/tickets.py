"""Bench tickets: what stands on the paper beside a part, blank for the pencil or filled from the store."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from urllib.parse import quote, urlsplit

from qa.bench.speech import amount, between, shown_amounts, signed
from qa.calipers.in_shop import instruments_of
from qa.characteristics import kinds
from qa.characteristics.base import Characteristic, Limits
from qa.checking import holding, plan_of
from qa.conformity import Verdict
from qa.errors import ShopError
from qa.gate.gate import Gate
from qa.gate.gluing import Clamped, after_clamp, look
from qa.judge import Judged, JudgedPart, Latest, judge_part, latest_by_station
from qa.paper.drawing import face_svg, spots, verdicts_by_place
from qa.plans.plan import Part, Plan
from qa.record import BenchEvent, BenchReading, standing
from qa.shop import Shop
from qa.store.store import Store

ADDRESS = "http://127.0.0.1:8050"
DRAWN, DRAWN_LARGE = (420.0, 240.0), (480.0, 420.0)
CROWDED = 16
"""How many places a drawing of the ordinary size has room for."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One value on a ticket: its place's number on the drawing, its name, and what was found.

    `verdict` is None for a reading that is not judged by itself.
    """

    number: str
    name: str
    value: str = ""
    off_target: str = ""
    verdict: Verdict | None = Verdict.NOT_MEASURED


@dataclass(frozen=True, slots=True)
class Section:
    """One characteristic on a ticket: what it is held to, what is read, and a cell for each value."""

    name: str
    says: str
    held_to: str
    reads: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Ticket:
    """One part's ticket. `gate` is None and `blank` true before anything of the part was read."""

    shop: str
    build: str
    plan: Plan
    part: Part
    unit: str
    blank: bool
    link: str
    drawing: str
    crowded: bool
    to_read: tuple[Section, ...]
    worked_out: tuple[Section, ...]
    printed_at: dt.datetime
    read_by: str = ""
    gate: Gate | None = None
    glued: tuple[BenchEvent, ...] = ()
    clamped: tuple[Clamped, ...] = ()


def tickets_of(
    shop: Shop,
    store: Store,
    build: str,
    part: str | None = None,
    *,
    model: str | None = None,
    blank: bool = False,
    address: str = ADDRESS,
    now: dt.datetime | None = None,
) -> list[Ticket]:
    """The tickets of a build's parts, or of one; a part not read yet, or with `blank` any, has a blank one.

    A build that was never begun has blank tickets too. ShopError where model, part or address is not usable.
    """
    plan = plan_of(shop, store, build, model)
    parts = [plan.part(part)] if part else list(plan.parts.values())
    rows = [] if blank else standing(holding(store, build, plan))
    return [
        _ticket(shop, store, build, plan, one, [row for row in rows if row.part == one.name], address, now)
        for one in parts
    ]


def _ticket(
    shop: Shop,
    store: Store,
    build: str,
    plan: Plan,
    part: Part,
    rows: Sequence[BenchReading],
    address: str,
    now: dt.datetime | None,
) -> Ticket:
    judged = judge_part(part, rows, instruments_of(shop, store))
    crowded = len(spots(part)) > CROWDED
    width, height = DRAWN_LARGE if crowded else DRAWN
    sections = list(_sections(part, judged, latest_by_station(rows), shop.unit))
    derived = {item.name for item in part.characteristics.values() if item.derived}
    verdicts = verdicts_by_place(judged) if rows else None
    ticket = Ticket(
        shop.name,
        build,
        plan,
        part,
        shop.unit,
        not rows,
        bench_link(address, build, part.name),
        face_svg(part, shop.unit, verdicts=verdicts, width=width, height=height),
        crowded,
        tuple(section for section in sections if section.name not in derived),
        tuple(section for section in sections if section.name in derived),
        now or dt.datetime.now(dt.UTC),
    )
    return _filled(ticket, shop, store, rows) if rows else ticket


def _filled(ticket: Ticket, shop: Shop, store: Store, rows: Sequence[BenchReading]) -> Ticket:
    build, part = ticket.build, ticket.part
    found, _ = look(shop, store, build, part.name, now=ticket.printed_at)
    return replace(
        ticket,
        read_by=_read_by(rows, shop),
        gate=found,
        glued=tuple(store.events("glue-up", build, part.name)),
        clamped=tuple(after_clamp(shop, store, build, part)),
    )


def bench_link(address: str, build: str, part: str) -> str:
    """Where the part is on the Bench page of a dashboard; ShopError where `address` is no http address."""
    at = urlsplit(address)
    if at.scheme not in ("http", "https") or not at.netloc or at.query or at.fragment:
        raise ShopError(f"{address!r} is not the address of a dashboard; write it like {ADDRESS}")
    return f"{address.rstrip('/')}/bench?build={quote(build, safe='')}&part={quote(part, safe='')}"


def _sections(part: Part, judged: JudgedPart, latest: Latest, unit: str) -> Iterator[Section]:
    numbers = {reading: str(spot.number) for spot in spots(part) for reading in spot.readings}
    for item in part.characteristics.values():
        kind = kinds()[item.kind]
        found = [one for one in judged.characteristics if one.characteristic == item.name]
        cells = [_cell(one, numbers, unit) for one in found]
        if not kind.each_station and not item.derived and item.stations[0].name:
            cells = [*_unjudged(item, numbers, latest, unit), *cells]
        yield Section(
            item.name,
            kind.says,
            held_to(item, item.limits(None), unit),
            kind.reads(item, lambda mm: amount(mm, "mm", unit)),
            tuple(cells),
        )


def _unjudged(
    item: Characteristic, numbers: dict[tuple[str, str], str], latest: Latest, unit: str
) -> Iterator[Cell]:
    """The readings of a characteristic that is judged by all of them together."""
    for station in item.stations:
        row = latest.get((item.name, station.name))
        value = "" if row is None else amount(row.value, row.unit, unit)
        yield Cell(numbers[item.name, station.name], station.name, value, verdict=None)


def _cell(item: Judged, numbers: dict[tuple[str, str], str], unit: str) -> Cell:
    number = numbers.get((item.characteristic, item.station or ""), "")
    name = item.station or item.characteristic
    if item.value is None:
        return Cell(number, name, verdict=item.verdict)
    off = "" if not item.target or item.deviation is None else signed(item.deviation, item.unit, unit)
    return Cell(number, name, amount(item.value, item.unit, unit), off, item.verdict)


def held_to(item: Characteristic, limits: Limits, unit: str) -> str:
    """Target and limits in words, in the shop's unit: "target 18.00 mm, 17.85 mm to 18.15 mm"."""
    target, low, high = shown_amounts(item, limits, unit)
    words = [f"target {target}"] if target and limits.target else []
    return ", ".join(filter(None, (*words, between(low, high))))


def _read_by(rows: Sequence[BenchReading], shop: Shop) -> str:
    """When, with what and in what air the readings that count were taken."""
    moments = [dt.datetime.fromisoformat(row.taken_at).astimezone(shop.zone()) for row in rows]
    first, last = min(moments), max(moments)
    when = f"{first:%Y-%m-%d %H:%M}"
    if last.date() != first.date():
        when += f" to {last:%Y-%m-%d %H:%M}"
    by = ", ".join(sorted({row.instrument or "typed" for row in rows}))
    airs = [row.rh_percent for row in rows if row.rh_percent is not None]
    air = f", at {min(airs):g} to {max(airs):g} % RH" if airs and min(airs) != max(airs) else ""
    air = air or (f", at {airs[0]:g} % RH" if airs else "")
    return f"{when}, by {by}{air}"
