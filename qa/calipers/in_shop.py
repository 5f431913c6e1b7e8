"""The instruments of a shop as its store knows them: described, checked and studied."""

from __future__ import annotations

from typing import TYPE_CHECKING

from qa.calipers.history import as_known
from qa.instruments import TYPED

if TYPE_CHECKING:
    from collections.abc import Callable

    from qa.instruments import Instrument
    from qa.record import BenchEvent
    from qa.shop import Shop
    from qa.store.store import Store


EVENT_KINDS = ("check", "fix", "study")
"""The kinds of event that tell of an instrument."""


def events_of_instruments(store: Store) -> list[BenchEvent]:
    """Every event that tells of an instrument, kind by kind."""
    return [item for kind in EVENT_KINDS for item in store.events(kind)]


def instruments_of(shop: Shop, store: Store) -> Callable[[str | None], Instrument]:
    """A look-up by id as the judging of readings needs it: each with its history and last study.

    An id the shop does not know gives the usual values, as `Shop.instrument_or_typed` does.
    """
    events = events_of_instruments(store)
    known = {name: as_known(item, events, shop.unit) for name, item in shop.instruments.items()}
    return lambda name: known.get(name or "", TYPED)
