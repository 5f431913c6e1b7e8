"""The record of a whole build for the instrument's owner: every verdict, glue-up and decision."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from qa.bench.speech import say_judged, say_off, signed
from qa.calipers.standing import State, state
from qa.checking import check, plan_of
from qa.chronicle import COUNTS, standings_of
from qa.conformity import Verdict
from qa.errors import ShopError
from qa.judge import WORST_FIRST, Judged, JudgedPart
from qa.paper.drawing import shape
from qa.plans.plan import Part, Plan, unknown
from qa.plans.revisions import Revisions
from qa.record import BenchEvent, BenchReading
from qa.shop import Shop
from qa.store.store import Build, Store

STRIP = (240.0, 24.0)
BEYOND = 0.5
"""How far beyond its limits a value is drawn at most, as a share of their distance."""


@dataclass(frozen=True, slots=True)
class RecordPart:
    """One part of a build: its verdicts, and the glue-ups and overrides that were kept.

    `outside` says what does not conform, `in_doubt` what an instrument may have been wrong by.
    """

    part: Part
    judged: JudgedPart
    read_at: tuple[str, str] | None
    glued: tuple[BenchEvent, ...]
    overrides: tuple[BenchEvent, ...]
    outside: tuple[str, ...]
    in_doubt: tuple[str, ...]

    @property
    def counts(self) -> dict[Verdict, int]:
        """How many verdicts of each sort, the worst first."""
        found = Counter(item.verdict for item in self.judged.characteristics)
        return {verdict: found[verdict] for verdict in WORST_FIRST if found[verdict]}


@dataclass(frozen=True, slots=True)
class Record:
    """A build as its owner gets it.

    `instruments` says how each one stood, `readings` how many count; `airs` are the lowest and highest
    humidity (%) at any of them.
    """

    shop: str
    unit: str
    build: Build
    plan: Plan
    parts: tuple[RecordPart, ...]
    instruments: tuple[str, ...]
    readings: int
    corrected: int
    airs: tuple[float, float] | None
    printed_at: dt.datetime

    @property
    def fit(self) -> bool:
        return all(one.judged.fit for one in self.parts)


def record_of(shop: Shop, store: Store, build: str, now: dt.datetime | None = None) -> Record:
    """The record of a build; ShopError where it was never begun."""
    begun = store.build(build)
    if begun is None:
        raise ShopError(unknown("build", build, store.builds()))
    plan, rows, events = plan_of(shop, store, build), store.readings(build), store.events(build=build)
    worth = standings_of(rows, events, plan, Revisions.kept(store.plan_text))
    judged = check(shop, store, build)[0]
    counting = [row for row in rows if worth[row.sequence] == COUNTS]
    counting.sort(key=lambda row: row.taken_at)
    parts = tuple(_part(shop, plan.parts[one.part], one, counting, events) for one in judged.parts)
    airs = [row.rh_percent for row in counting if row.rh_percent is not None]
    at = now or dt.datetime.now(dt.UTC)
    return Record(
        shop.name,
        shop.unit,
        begun,
        plan,
        parts,
        _instruments(shop, store, counting),
        len(counting),
        len(rows) - len(counting),
        (min(airs), max(airs)) if airs else None,
        at,
    )


def _part(
    shop: Shop,
    part: Part,
    judged: JudgedPart,
    rows: Sequence[BenchReading],
    events: Sequence[BenchEvent],
) -> RecordPart:
    own = [row for row in rows if row.part == part.name]
    of = [event for event in events if event.part == part.name]
    outside = [item for item in judged.characteristics if item.verdict == Verdict.DOES_NOT_CONFORM]
    return RecordPart(
        part,
        judged,
        (own[0].taken_at, own[-1].taken_at) if own else None,
        tuple(event for event in of if event.kind == "glue-up"),
        tuple(event for event in of if event.kind == "override"),
        tuple(say_judged(item, shop.unit) for item in outside),
        tuple(f"{item.place} {say_off(item, shop.unit)}" for item in judged.characteristics if item.in_doubt),
    )


def _instruments(shop: Shop, store: Store, rows: Sequence[BenchReading]) -> tuple[str, ...]:
    """How each instrument used stood on the day of its last reading of this build."""
    checks, last = store.events("check"), {row.instrument: row.taken_at for row in rows}
    first = store.first_use(last)
    used = ((shop.instruments[name], at) for name, at in sorted(last.items()) if name in shop.instruments)
    return tuple(
        _say_stood(
            state(
                instrument,
                [check for check in checks if check.at <= at],
                first.get(instrument.id),
                dt.datetime.fromisoformat(at),
            ),
            instrument.unit,
            shop.unit,
        )
        for instrument, at in used
    )


def _say_stood(item: State, own_unit: str, unit: str) -> str:
    """How an instrument stood, its error in its own unit, a length in the shop's."""
    error, day = signed(item.error or 0.0, own_unit, unit), (item.checked_at or "")[:10]
    told = {
        "good": f"checked {day}, {error} off",
        "failed": f"found {error} off on {day}",
        "overdue": "its check was overdue",
        "never checked": "never checked",
    }
    return f"{item.instrument}: {told[item.trust]}"


def strip_svg(judged: Sequence[Judged]) -> str:
    """Where each value lies between its limits, lower at the left bar, upper at the right, as SVG text.

    Values without two limits have no place on it and are left out.
    """
    wide, high = STRIP
    left, right = (wide * share / (1 + 2 * BEYOND) for share in (BEYOND, 1 + BEYOND))
    middle = high / 2
    size = f'width="{right - left:.1f}" height="{high - 6:.1f}"'
    drawn = [
        f'<rect x="{left:.1f}" y="3" {size} fill="#e4e4e4" stroke="none"/>',
        f'<path d="M{left:.1f} 1V{high - 1:.1f}M{right:.1f} 1V{high - 1:.1f}" stroke-width="1.4"/>',
        f'<path d="M{wide / 2:.1f} 5V{high - 5:.1f}" stroke-width="0.6" stroke-dasharray="2 2"/>',
    ]
    for item in judged:
        where = place_between(item)
        if where is not None:
            drawn.append(shape(item.verdict, left + where * (right - left), middle, 4))
    told = Counter(item.verdict for item in judged)
    label = ", ".join(f"{count} {verdict}" for verdict, count in told.items())
    return (
        f'<svg class="strip" role="img" aria-label="{label}" viewBox="0 0 {wide:g} {high:g}"'
        f' fill="none" stroke="currentColor">{"".join(drawn)}</svg>'
    )


def place_between(item: Judged) -> float | None:
    """Where a value lies, 0 at its lower limit and 1 at its upper; None without a value or both limits."""
    if item.value is None or item.lower is None or item.upper is None or item.upper <= item.lower:
        return None
    share = (item.value - item.lower) / (item.upper - item.lower)
    return min(max(share, -BEYOND * 0.9), 1 + BEYOND * 0.9)
