"""Which readings rest on an instrument that a check found off, and which verdicts would change."""

from __future__ import annotations

from typing import TYPE_CHECKING

from qa.calipers.check import Changed, Rejudged, rejudge
from qa.calipers.standing import Check, checks_of
from qa.judge import WORST_FIRST

if TYPE_CHECKING:
    from qa.instruments import Instrument
    from qa.shop import Shop
    from qa.store.store import Store


def doubts(shop: Shop, store: Store, instrument: Instrument) -> list[tuple[Check, Rejudged]]:
    """Every failed check of an instrument that throws doubt on readings, the newest first."""
    failed = [check for check in checks_of(instrument, store.events("check")) if not check.passed(instrument)]
    judged = ((check, rejudge(shop, store, instrument, check)) for check in reversed(failed))
    return [(check, again) for check, again in judged if again is not None and again.builds]


def worst_first(changed: tuple[Changed, ...]) -> list[Changed]:
    """Verdicts that change, those first that would be worst."""
    return sorted(changed, key=lambda item: WORST_FIRST.index(item.after))
