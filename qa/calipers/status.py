"""What can be said of every instrument of a shop today: its standing, its error, what it can prove."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qa.arithmetic import finite
from qa.calipers.history import as_known
from qa.calipers.in_shop import events_of_instruments
from qa.calipers.standing import Check, State, checks_of, newest, state
from qa.calipers.study import provable
from qa.instruments import Instrument, Studied, budget
from qa.uncertainty import Combined, combine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from qa.record import BenchEvent
    from qa.shop import Shop
    from qa.store.store import Store

ONE_SIDED_95 = 1.645
"""Standard uncertainties a value must keep from a limit to conform at 95 % (JCGM 106:2012, 8.3)."""


@dataclass(frozen=True, slots=True)
class Standing:
    """One instrument: described, checked, studied, in its own unit.

    `reading` is the uncertainty of one reading today; it counts the verified bias only where the last check
    `covers` the size most often read, else the permissible error. The repeatability is that on a wood it has
    no study of; `studied` says where it is from, and the instrument's `studies` what it is on other woods.
    """

    instrument: Instrument
    state: State
    check: Check | None
    reading: Combined

    @property
    def studied(self) -> Studied:
        """The study behind the repeatability; its `at` is "" where that is as shop.toml says."""
        return self.instrument.studied()

    @property
    def provable(self) -> float:
        """The narrowest plus-minus tolerance that one reading can prove, by repeatability."""
        return provable(self.instrument.repeatability)

    @property
    def guard(self) -> float:
        """How far inside a limit one reading must stay to conform at 95 %."""
        return ONE_SIDED_95 * self.reading.u


def standings(
    shop: Shop, store: Store, now: dt.datetime | None = None, size: float | None = None
) -> list[Standing]:
    """Every instrument of the shop as it stands on a day; `size` (mm) is that of a reading in question.

    Without a size the uncertainty is that of a reading at the middle of what the last check covered.
    """
    at = now or dt.datetime.now(dt.UTC)
    if size is not None:
        size = finite.not_negative(size, "size of the reading in question")
    events = events_of_instruments(store)
    used = store.first_use(list(shop.instruments))
    return [_standing(item, events, used.get(name), at, size) for name, item in shop.instruments.items()]


def warning(shop: Shop, store: Store, name: str, now: dt.datetime | None = None) -> str:
    """Why an instrument is not to be believed today and what to do, or "" where it is, or is not known."""
    if name not in shop.instruments:
        return ""
    described, at = shop.instruments[name], now or dt.datetime.now(dt.UTC)
    known = state(described, store.events("check"), store.first_use([name]).get(name), at)
    if known.trust == "failed":
        return (
            f"{name} failed its check of {str(known.checked_at)[:10]}: set it right, and check it with "
            f"`dryfit caliper check {name} --adjusted` before you measure by it"
        )
    if known.trust == "overdue":
        return f"{name} {known.owed}: `dryfit caliper check {name}`"
    return ""


def _standing(
    described: Instrument,
    events: Sequence[BenchEvent],
    first_used: str | None,
    now: dt.datetime,
    size: float | None,
) -> Standing:
    known = as_known(described, events)
    checks = checks_of(described, events)
    last = newest(checks) if checks else None
    references = [point.reference for point in last.points] if last else []
    middle = (min(references) + max(references)) / 2 if references else None
    moment = now.astimezone(dt.UTC).isoformat()
    found = budget(known, at=moment, size=middle if size is None else size)
    return Standing(
        known,
        state(described, [item for item in events if item.kind == "check"], first_used, now),
        last,
        combine([*found.own, *found.shared.values()]),
    )
