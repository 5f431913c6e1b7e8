"""The glue decision as a screen or the command sends it: kept once, however often it is sent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qa.errors import ShopError
from qa.gate.gluing import look, record

if TYPE_CHECKING:
    from qa.gate.gate import Climate
    from qa.record import BenchEvent
    from qa.shop import Shop
    from qa.store.store import Store


@dataclass(frozen=True, slots=True)
class Decided:
    """A glue-up that is kept, and whether it was kept now or had been already by the same decision."""

    event: BenchEvent
    anew: bool


def last_glued(store: Store, build: str, part: str) -> int:
    """The sequence of a part's last glue-up, 0 for none: what a decision follows upon."""
    found = store.events("glue-up", build, part)
    return found[-1].sequence if found else 0


def follows_on(store: Store, build: str, part: str, again: bool) -> int:
    """As `last_glued`, where it is said whether the part is glued `again`; ShopError where that is not so."""
    kept = store.events("glue-up", build, part)
    if kept and not again:
        raise ShopError(
            f"{build} {part} was glued up already, on {_at(kept[-1])} UTC: nothing was recorded; "
            "if it was glued again, say so with --again"
        )
    if again and not kept:
        raise ShopError(f"{build} {part} has not been glued up yet: leave --again out")
    return kept[-1].sequence if kept else 0


def glue(
    shop: Shop,
    store: Store,
    build: str,
    part: str,
    follows: int,
    what: Mapping[str, object],
    note: str = "",
    by: str = "",
    climate: Climate | None = None,
) -> Decided:
    """Keep the glue-up of a part that was decided when its last one was `follows` (see `last_glued`).

    The same decision sent again changes nothing; one upon an earlier glue-up is kept as `again`. ShopError
    where the gate is closed by now, or another glue-up of the part was kept meanwhile. Callers of one process
    take turns by a lock of their own.
    """
    kept = store.events("glue-up", build, part)
    since = [item for item in kept if item.sequence > follows]
    if since:
        if len(since) == 1 and _same(since[0], what, note, by):
            return Decided(since[0], anew=False)
        raise ShopError(
            f"{build} {part} was glued up meanwhile, on {_at(since[-1])} UTC: nothing more was kept; "
            "look at it again"
        )
    found, _ = look(shop, store, build, part, climate)
    record(store, found, {**what, "again": True} if kept else what, note, by)
    return Decided(store.events("glue-up", build, part)[-1], anew=True)


def _at(item: BenchEvent) -> str:
    return item.at[:16].replace("T", " ")


def _same(item: BenchEvent, what: Mapping[str, object], note: str, by: str) -> bool:
    given = {name: value for name, value in what.items() if value not in (None, "")}
    return item.text == note and item.by == by and all(item.body.get(n) == v for n, v in given.items())
