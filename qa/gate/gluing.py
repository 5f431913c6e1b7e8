"""The gate over a store: what it looks at is gathered here, and what is decided is kept here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from qa.calipers.in_shop import instruments_of
from qa.calipers.standing import State, checks_of, every, state
from qa.checking import holding, plan_of
from qa.errors import ShopError
from qa.gate.gate import Climate, Evidence, Gate, gate
from qa.judge import judge_part
from qa.plans.plan import Part, unknown
from qa.plans.revisions import Revisions
from qa.record import AHEAD, BenchEvent, BenchReading, standing, utc
from qa.shop import Shop
from qa.store.store import Store
from qa.uncertainty import Combined, Contribution, combine, expanded


@dataclass(frozen=True, slots=True)
class Clamped:
    """What clamping moved: one characteristic before and after the glue-up, in its unit.

    `reach` is the expanded uncertainty of the difference at 95 %.
    """

    characteristic: str
    before: float
    after: float
    unit: str
    standard_uncertainty: float
    reach: float

    @property
    def moved(self) -> float:
        return self.after - self.before


def look(
    shop: Shop,
    store: Store,
    build: str,
    part: str,
    climate: Climate | None = None,
    now: dt.datetime | None = None,
) -> tuple[Gate, Part]:
    """The gate for one part of a build as things stand; ShopError where build or part is not known.

    Without a climate given, the newest that was logged within the life of a reading is taken.
    """
    evidence = _gathered(shop, store, build, climate, now or dt.datetime.now(dt.UTC))
    planned = evidence.plan.part(part)
    return gate(evidence, planned), planned


def look_all(shop: Shop, store: Store, build: str) -> list[tuple[Gate, Part]]:
    """The gate of every part of a build as things stand, in the plan's order; ShopError as `look`."""
    evidence = _gathered(shop, store, build, None, dt.datetime.now(dt.UTC))
    return [(gate(evidence, part), part) for part in evidence.plan.parts.values()]


def _gathered(shop: Shop, store: Store, build: str, climate: Climate | None, at: dt.datetime) -> Evidence:
    if store.build(build) is None:
        raise ShopError(unknown("build", build, store.builds()))
    plan = plan_of(shop, store, build)
    readings, checks = store.readings(build), store.events("check")
    life = dt.timedelta(hours=plan.reference.reading_life_hours)
    return Evidence(
        build,
        plan,
        readings,
        store.events(build=build),
        instruments_of(shop, store),
        _states(shop, store, readings, checks, at),
        at,
        climate or newest_climate(readings, store.events("climate"), at, life),
        shop.species(),
        shop.unit,
        frozenset({item.instrument for item in checks} - shop.instruments.keys()),
        Revisions.kept(store.plan_text),
    )


def _states(
    shop: Shop,
    store: Store,
    readings: Sequence[BenchReading],
    checks: Sequence[BenchEvent],
    now: dt.datetime,
) -> dict[str, State]:
    used = {row.instrument for row in readings if row.instrument in shop.instruments}
    kept = {name: shop.instruments[name] for name in used}
    due = {name for name, item in kept.items() if every(item) and not checks_of(item, checks)}
    first = store.first_use(due) if due else {}  # that looks at every reading
    return {name: state(item, checks, first.get(name), now) for name, item in kept.items()}


def newest_climate(
    readings: Sequence[BenchReading], events: Sequence[BenchEvent], now: dt.datetime, life: dt.timedelta
) -> Climate | None:
    """The newest climate logged with a reading or by itself, where it is not older than `life`.

    One dated further ahead than a reading may be is passed over: it would hide what is noted today.
    """
    found = [
        Climate(row.rh_percent, row.temp_c, row.taken_at) for row in readings if row.rh_percent is not None
    ]
    found += [climate for climate in map(_climate_of, events) if climate is not None]
    believed = [climate for climate in found if climate.at <= utc(now + AHEAD)]
    newest = max(believed, key=lambda climate: climate.at, default=None)
    if newest is None or now - dt.datetime.fromisoformat(newest.at) > life:
        return None
    return newest


def _climate_of(item: BenchEvent) -> Climate | None:
    """The climate an event logs; None where it holds no number for the humidity."""
    temp = item.body.get("temp_c")
    try:
        rh_percent = float(str(item.body["rh_percent"]))
        temp_c = None if temp is None else float(str(temp))
    except (KeyError, ValueError):
        return None
    return Climate(rh_percent, temp_c, item.at) if 0 <= rh_percent <= 100 else None


def override(store: Store, found: Gate, reason: str, by: str = "", now: dt.datetime | None = None) -> None:
    """Keep the maker's override of a closed gate, with its reason and what it overrode, for ever."""
    if not reason.strip():
        raise ShopError("an override needs a reason: --override 'why it is glued all the same'")
    at = utc(now or dt.datetime.now(dt.UTC))
    store.add_event(
        BenchEvent(at, "override", found.build, found.part, text=reason.strip(), by=by, body=found.seen)
    )


def record(store: Store, found: Gate, what: Mapping[str, object], note: str = "", by: str = "") -> None:
    """Keep a glue-up: glue, batch, climate, open and clamp times; ShopError while the gate is closed."""
    if not found.open:
        count = len(found.reasons)
        raise ShopError(
            f"the gate of {found.build} {found.part} is closed for {count} reason{'s' if count > 1 else ''}: "
            "no glue-up is recorded; mend what it names, or override it with a reason"
        )
    climate = (
        {"rh_percent": found.climate.rh_percent, "temp_c": found.climate.temp_c} if found.climate else {}
    )
    body = climate | {name: value for name, value in what.items() if value not in (None, "")}
    body["overridden"] = found.overridden
    store.add_event(
        BenchEvent(
            utc(dt.datetime.now(dt.UTC)), "glue-up", found.build, found.part, text=note, by=by, body=body
        )
    )


def after_clamp(shop: Shop, store: Store, build: str, part: Part) -> list[Clamped]:
    """What the last glue-up moved: every characteristic read both before it and wholly anew after it."""
    glued = store.events("glue-up", build, part.name)
    if not glued:
        return []
    instrument_of = instruments_of(shop, store)
    plan = plan_of(shop, store, build)
    rows, at = [row for row in holding(store, build, plan) if row.part == part.name], glued[-1].at
    then = [row for row in rows if row.taken_at <= at or row.millionths is None]
    before = judge_part(part, then, instrument_of)
    after = judge_part(part, [row for row in standing(rows) if row.taken_at > at], instrument_of)
    found = []
    for old, new in zip(before.characteristics, after.characteristics, strict=True):
        if old.value is not None and new.value is not None and old.uncertainty and new.uncertainty:
            both = _difference(old.uncertainty, new.uncertainty)
            found.append(Clamped(old.place, old.value, new.value, old.unit, both.u, expanded(both)))
    return found


def _difference(old: Combined, new: Combined) -> Combined:
    """Uncertainty of a difference of two values, taken as independent (JCGM 100:2008, 5.1.2).

    The jaws may have been set to zero anew between them, so that nothing is sure to cancel.
    """
    return combine([Contribution(old.u, old.dof), Contribution(new.u, new.dof)])
