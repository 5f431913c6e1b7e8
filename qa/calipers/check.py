"""A check of an instrument: kept, and what it makes of the readings taken since the last good one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

from qa.calipers.history import FOREVER, history, told
from qa.calipers.in_shop import instruments_of
from qa.calipers.standing import ADJUSTED, AS_FOUND, Check, checks_of, day, every
from qa.characteristics import kinds
from qa.characteristics.base import MILLION
from qa.checking import holding, plan_of
from qa.errors import ShopError
from qa.instruments import Instrument
from qa.judge import JudgedBuild, judge_build
from qa.record import BenchEvent, BenchReading, standing, utc

if TYPE_CHECKING:
    from qa.conformity import Verdict
    from qa.plans.plan import Plan
    from qa.shop import Shop
    from qa.store.store import Store


LARGEST_U = 10.0
"""A reference less sure than that, in the instrument's unit, is none."""


@dataclass(frozen=True, slots=True)
class Changed:
    """A verdict that is another with the instrument's error taken off; values in `unit`."""

    build: str
    part: str
    characteristic: str
    station: str | None
    unit: str
    before: Verdict
    after: Verdict
    value: float | None
    corrected: float | None


@dataclass(frozen=True, slots=True)
class Rejudged:
    """Readings that a failed check throws doubt on, and the verdicts that change without its error.

    `since` is the good check, or fix, before them, None where there was none; `until` the end of doubt, None
    while it lasts. `readings` were taken between the jaws, `left` otherwise (a depth, a gap): those are
    judged as they are.
    """

    since: str | None
    until: str | None
    readings: int
    left: int
    builds: tuple[str, ...]
    changed: tuple[Changed, ...]


def keep_check(
    store: Store,
    instrument: Instrument,
    pairs: Sequence[tuple[Decimal, Decimal]],
    *,
    adjusted: bool = False,
    text: str = "",
    by: str = "",
    reference_u: float | None = None,
    now: dt.datetime | None = None,
) -> Check:
    """Keep readings of known sizes, (reference, reading) in the instrument's unit, as one check.

    ShopError for none, or where the instrument cannot read a reference at all.
    """
    if not pairs:
        raise ShopError(
            "a check needs at least one reading of a known size: --reference 25.00 --reading 25.01"
        )
    for reference, _ in pairs:
        _refuse_beyond(instrument, float(reference))
    if reference_u is not None and not 0 <= reference_u < LARGEST_U:
        raise ShopError(f"the uncertainty of the references must be 0 or a little more, got {reference_u:g}")
    at = now or dt.datetime.now(dt.UTC)
    session = utc(at)
    for number, (reference, reading) in enumerate(pairs):
        body: dict[str, object] = {
            "reference": str(reference),
            "reading": str(reading),
            "state": ADJUSTED if adjusted else AS_FOUND,
            "session": session,
        }
        if reference_u is not None:
            body["reference_uncertainty"] = reference_u
        moment = utc(at + dt.timedelta(microseconds=number))
        store.add_event(BenchEvent(moment, "check", instrument=instrument.id, text=text, by=by, body=body))
    made = checks_of(instrument, store.events("check"))
    return next(check for check in reversed(made) if check.begun_at == session)


def _refuse_beyond(instrument: Instrument, reference: float) -> None:
    if instrument.span and not instrument.span[0] <= reference <= instrument.span[1]:
        low, high = instrument.span
        raise ShopError(
            f"{instrument.id} reads {low:g} to {high:g} {instrument.unit}, "
            f"so it cannot be checked at {reference:g}"
        )


def due(instrument: Instrument, check: Check) -> dt.date | None:
    """The day the next check is due; None where the instrument names no interval."""
    interval = every(instrument)
    return day(check.at) + interval if interval else None


def rejudge(shop: Shop, store: Store, instrument: Instrument, check: Check) -> Rejudged | None:
    """Judge a second time what a failed check throws doubt on, with the error it found taken off.

    None where the check passed. Readings stay as they are: the second judging is only told. What remains of
    the error then counts as the permissible error.
    """
    events = [item for kind in ("check", "fix") for item in store.events(kind)]
    known = replace(instrument, history=history(instrument, events))
    doubted = [item for item in known.history if item.off and item.why == told(instrument, check)]
    if not doubted:
        return None
    places = [known.history.index(item) for item in doubted]
    since = known.history[places[0] - 1].until if places[0] else None
    until = None if doubted[-1].until == FOREVER else doubted[-1].until
    cleared = tuple(replace(s, off=None, verified=None) if s in doubted else s for s in known.history)
    rows = [
        row
        for row in standing(store.readings())
        if row.instrument == instrument.id and known.stretch(row.taken_at) in doubted
    ]
    look_up = instruments_of(shop, store)
    without = replace(look_up(instrument.id), history=cleared)
    in_order = list(store.builds({row.build for row in rows}))
    changed: list[Changed] = []
    between_jaws = 0
    for build in in_order:
        plan = plan_of(shop, store, build)
        all_rows = holding(store, build, plan)
        touched = {row.sequence for row in rows if row.build == build and _by_jaws(plan, row)}
        between_jaws += len(touched)
        corrected = [_taken_off(known, row) if row.sequence in touched else row for row in all_rows]
        before = judge_build(build, plan, all_rows, look_up)
        after = judge_build(
            build, plan, corrected, lambda name: without if name == instrument.id else look_up(name)
        )
        changed += _differences(before, after)
    return Rejudged(since, until, between_jaws, len(rows) - between_jaws, tuple(in_order), tuple(changed))


def _by_jaws(plan: Plan, row: BenchReading) -> bool:
    part = plan.parts.get(row.part)
    characteristic = part.characteristics.get(row.characteristic) if part else None
    return characteristic is not None and kinds()[characteristic.kind].sized


def _taken_off(instrument: Instrument, row: BenchReading) -> BenchReading:
    stretch = instrument.stretch(row.taken_at)
    if row.millionths is None or stretch is None or stretch.off is None:
        return row
    return replace(row, millionths=row.millionths - round(stretch.off.at(row.value)[0] * MILLION))


def _differences(before: JudgedBuild, after: JudgedBuild) -> Iterable[Changed]:
    for old_part, new_part in zip(before.parts, after.parts, strict=True):
        for old, new in zip(old_part.characteristics, new_part.characteristics, strict=True):
            if old.verdict != new.verdict:
                yield Changed(
                    before.build,
                    old_part.part,
                    old.characteristic,
                    old.station,
                    old.unit,
                    old.verdict,
                    new.verdict,
                    old.value,
                    new.value,
                )
