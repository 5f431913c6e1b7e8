"""A check of an instrument: kept, and what it makes of the readings taken since the last good one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

from qa.arithmetic.doubt import doubt
from qa.calipers.history import FOREVER, history, told
from qa.calipers.in_shop import instruments_of
from qa.calipers.standing import ADJUSTED, AS_FOUND, EXACT, Check, checks_of, day, every, newest
from qa.characteristics.base import MILLION
from qa.checking import holding, plan_of
from qa.errors import ShopError
from qa.instruments import Instrument, Stretch
from qa.judge import InstrumentOf, JudgedBuild, judge_build, told_by_checks
from qa.record import BenchEvent, BenchReading, standing, utc

if TYPE_CHECKING:
    from qa.conformity import Verdict
    from qa.plans.plan import Plan
    from qa.shop import Shop
    from qa.store.store import Store


FAR, FAR_OVER = 3.0, 100.0
"""A reading more than so many times off, and by so many times the permissible error, is a slip of the person
and no error of the instrument. Common practice, no source."""

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
    while it lasts. `readings` were taken between the jaws or by a meter, `left` otherwise (a depth, a gap):
    those are judged as they are.
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

    ShopError for none, where the instrument cannot read a reference at all, where a reading is a slip, or
    where closed jaws alone would clear what failed at a known size.
    """
    if not pairs:
        raise ShopError(
            "a check needs at least one reading of a known size: --reference 25.00 --reading 25.01"
        )
    for reference, reading in pairs:
        _refuse_beyond(instrument, float(reference))
        _refuse_slip(instrument, float(reference), float(reading))
    _refuse_zero_alone(instrument, pairs, checks_of(instrument, store.events("check")))
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
            "correction": instrument.correction,
        }
        if reference_u is not None:
            body["reference_uncertainty"] = reference_u
        moment = utc(at + dt.timedelta(microseconds=number))
        store.add_event(BenchEvent(moment, "check", instrument=instrument.id, text=text, by=by, body=body))
    made = checks_of(instrument, store.events("check"))
    return next(check for check in reversed(made) if check.begun_at == session)


def _refuse_slip(instrument: Instrument, reference: float, reading: float) -> None:
    """A check is kept for ever and throws doubt on readings: an error no instrument has is a slip."""
    why = doubt(reading, reference or None, "the known size")
    far = not reference or not 1 / FAR < reading / reference < FAR
    if not why and far and abs(reading - reference) > FAR_OVER * instrument.max_permissible_error:
        why = "is nowhere near it: a slip?"
    if why:
        raise ShopError(f"{reading:g} read at {reference:g} {why} Read it again")


def _refuse_zero_alone(
    instrument: Instrument, pairs: Sequence[tuple[Decimal, Decimal]], made: Sequence[Check]
) -> None:
    """Closed jaws that read zero say nothing of what is off at a size; of an offset they do."""
    permitted = instrument.max_permissible_error + EXACT
    if instrument.quantity != "length" or not made:
        return
    if any(reference or abs(reading) > permitted for reference, reading in pairs):
        return
    off = [point.reference for point in newest(made).points if abs(point.error) > permitted]
    if off and all(off):
        raise ShopError(
            f"{instrument.id} failed at {off[0]:g} {instrument.unit}, where closed jaws tell nothing: read a "
            "known size too"
        )


def _refuse_beyond(instrument: Instrument, reference: float) -> None:
    if reference < 0 and instrument.quantity == "length":
        raise ShopError(f"no known size is below zero, as {reference:g} is; closed jaws are 0")
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
    known = replace(instrument, history=history(instrument, events, shop.unit))
    why = told(instrument, check, shop.unit)
    doubted = [item for item in known.history if item.off and item.why == why]
    if not doubted:
        return None
    places = [known.history.index(item) for item in doubted]
    since = known.history[places[0] - 1].until if places[0] else None
    until = None if doubted[-1].until == FOREVER else doubted[-1].until
    builds = read_by(store, instrument.id, since or "", doubted[-1].until)
    in_doubt = _InDoubt(known, doubted, instruments_of(shop, store))
    each = ((build, _rejudge_build(shop, store, build, in_doubt)) for build in builds)
    found = {build: again for build, again in each if again is not None}
    told_of = sum(again[0] for again in found.values())
    left = sum(again[1] for again in found.values())
    changed = tuple(item for *_, items in found.values() for item in items)
    return Rejudged(since, until, told_of, left, tuple(found), changed)


@dataclass(frozen=True, slots=True)
class _InDoubt:
    """The instrument as its checks tell of it, the stretches in doubt, and every instrument as it judges."""

    known: Instrument
    doubted: Sequence[Stretch]
    look_up: InstrumentOf

    def covers(self, row: BenchReading) -> bool:
        return row.instrument == self.known.id and self.known.stretch(row.taken_at) in self.doubted

    def cleared(self, name: str | None) -> Instrument:
        """An instrument by name; this one as though nothing had been found of it in those stretches."""
        found = self.look_up(name)
        if name != self.known.id:
            return found
        clear = (replace(s, off=None, verified=None) if s in self.doubted else s for s in self.known.history)
        return replace(found, history=tuple(clear))


def _rejudge_build(
    shop: Shop, store: Store, build: str, in_doubt: _InDoubt
) -> tuple[int, int, tuple[Changed, ...]] | None:
    """Doubted readings that the check tells of, others, and verdicts that change; None for none in doubt."""
    rows = [row for row in standing(store.readings(build)) if in_doubt.covers(row)]
    if not rows:
        return None
    plan = plan_of(shop, store, build)
    touched = {row.sequence for row in rows if _is_told(plan, row)}
    held = holding(store, build, plan)
    corrected = [_taken_off(in_doubt.known, row) if row.sequence in touched else row for row in held]
    before = judge_build(build, plan, held, in_doubt.look_up)
    after = judge_build(build, plan, corrected, in_doubt.cleared)
    return len(touched), len(rows) - len(touched), tuple(_differences(before, after))


def read_by(store: Store, instrument: str, after: str, until: str) -> list[str]:
    """The builds an instrument read in `after` < taken_at <= `until` (ISO 8601, UTC), oldest first.

    Told from the index of builds by time, so that no reading is looked at but those of that time.
    """
    import sqlalchemy as sa

    from qa.store.schema import builds, readings

    read = (readings.c.build == builds.c.build) & (readings.c.instrument == instrument)
    within = (readings.c.taken_at > after) & (readings.c.taken_at <= until)
    query = sa.select(builds.c.build).where(sa.exists().where(read & within))
    with store.reading() as connection:
        return list(store.builds(connection.execute(query).scalars().all(), connection))


def _is_told(plan: Plan, row: BenchReading) -> bool:
    part = plan.parts.get(row.part)
    characteristic = part.characteristics.get(row.characteristic) if part else None
    return characteristic is not None and told_by_checks(characteristic)


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
