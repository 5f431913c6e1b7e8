"""Which part a bench is reading, and what an instrument said while none was chosen: kept as events.

A reading that comes in by a line belongs to the part its instrument was last put to. So a server that is
started again, or a second one over the same store, knows where to go on.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

from drivers.reading import Reading, is_unit
from qa.errors import ShopError
from qa.record import BenchEvent, utc

if TYPE_CHECKING:
    from qa.store.store import Store

AT = "at the bench"
HEARD = "heard, belongs nowhere"
SETTLED = "heard, settled"
"""Events: a part is put to an instrument (named "": taken from it); a reading without a place; its end."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """The part that is read by an instrument ("" where readings are typed and none is named), and where."""

    instrument: str
    build: str
    part: str
    model: str = ""
    bench: str = ""
    machine: str = ""


def choose(store: Store, wanted: Chosen) -> bool:
    """Put a part to an instrument; False where it is there already. A part named "" takes it away."""
    if _last_chosen(store, wanted.instrument) == wanted:
        return False
    body = {name: getattr(wanted, name) for name in ("model", "bench", "machine")}
    store.add_event(
        BenchEvent(_now(), AT, wanted.build, wanted.part, instrument=wanted.instrument, body=body)
    )
    return True


def lay_down(store: Store, instrument: str) -> bool:
    """Take an instrument's part away, so that what it says belongs nowhere; False where it had none."""
    return chosen(store, instrument) is not None and choose(store, Chosen(instrument, "", ""))


def chosen(store: Store, instrument: str) -> Chosen | None:
    """The part an instrument was last put to; None where it has none now."""
    found = _last_chosen(store, instrument)
    return found if found is not None and found.part else None


def _last_chosen(store: Store, instrument: str) -> Chosen | None:
    """What an instrument was last put to or taken from; None where it never was."""
    found = store.events(AT, instrument=instrument, newest=1)
    return _chosen(found[0]) if found else None


def _chosen(item: BenchEvent) -> Chosen:
    told = {name: str(item.body.get(name, "")) for name in ("model", "bench", "machine")}
    return Chosen(item.instrument, item.build, item.part, **told)


def recent(store: Store, most: int = 6) -> list[Chosen]:
    """The parts last put to any instrument, the newest first, each once."""
    found: dict[tuple[str, str], Chosen] = {}
    for item in reversed(store.events(AT, newest=20 * most)):
        if item.part:
            found.setdefault((item.build, item.part), _chosen(item))
    return list(found.values())[:most]


def keep_heard(store: Store, instrument: str, reading: Reading, why: str = "") -> BenchEvent:
    """Keep a reading that has no place to go, as it was sent, and why it has none."""
    raw = reading.raw if isinstance(reading.raw, str) else reading.raw.decode("latin-1")
    body = {"value": str(reading.value), "unit": reading.unit, "raw": raw.strip(), "why": why}
    at = utc(reading.at or dt.datetime.now(dt.UTC))
    event = BenchEvent(at, HEARD, instrument=instrument, text=f"{reading.value} {reading.unit}", body=body)
    return replace(event, sequence=store.add_event(event))


def unplaced(store: Store) -> list[BenchEvent]:
    """The readings that were heard and still belong nowhere, oldest first."""
    settled = {item.body.get("of") for item in store.events(SETTLED)}
    return [item for item in store.events(HEARD) if item.sequence not in settled]


def settle(store: Store, heard: BenchEvent, text: str) -> None:
    """Keep what became of a reading that had no place: taken somewhere, or let go."""
    store.add_event(
        BenchEvent(_now(), SETTLED, instrument=heard.instrument, text=text, body={"of": heard.sequence})
    )


def reading_of(heard: BenchEvent) -> Reading:
    """The reading kept in such an event; ShopError where it holds none."""
    unit = str(heard.body.get("unit", ""))
    if heard.kind != HEARD or not is_unit(unit):
        raise ShopError("that is no reading that was heard")
    raw = str(heard.body.get("raw", "")).encode("latin-1", "replace")
    return Reading(Decimal(str(heard.body["value"])), unit, raw, dt.datetime.fromisoformat(heard.at))


def _now() -> str:
    return utc(dt.datetime.now(dt.UTC))
