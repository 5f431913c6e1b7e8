"""What a person does at a bench, each at most once however often it is sent.

A typed reading is announced in the store with its token before it is taken, and takes its time from the
announcement. So one that is sent again, after the line broke or the server died in between, is found and not
taken twice. A reading to be taken anew is an event too, so that every screen knows of it.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from drivers.reading import BadRecord, Reading
from drivers.typed import read_typed
from qa.bench.at_bench import Chosen, reading_of, settle
from qa.bench.capture import Bench, millionths_of, read_by
from qa.bench.clock import LEAST, onward
from qa.bench.planing import PLANED
from qa.bench.speech import say_held
from qa.checking import plan_of
from qa.errors import ShopError
from qa.record import BenchEvent, BenchReading, utc

if TYPE_CHECKING:
    from qa.shop import Shop
    from qa.store.store import Store

TYPED = "typed"
AGAIN, AGAIN_BACK = "read again", "read again taken back"
_ENDS_AGAIN = (AGAIN_BACK, "skip", PLANED)
MOST_TEXT = 200

KEYS = {
    "u": "undo",
    "s": "skip",
    "r": "read the last again",
    "a": "accept a doubted reading",
    "p": "planed: read anew",
    "q": "put the part down",
}
"""The keys at the bench, on its page and of `dryfit measure`."""

Kind = Literal["stored", "held", "done", "nothing", "refused"]


@dataclass(frozen=True, slots=True)
class Done:
    """What came of an act, in words; `refused` where nothing was changed because of what was asked."""

    kind: Kind
    say: str


def open_bench(shop: Shop, store: Store, at: Chosen) -> Bench:
    """The bench where a part is read, going on where it was; QaError where the part is not known."""
    plan = plan_of(shop, store, at.build, at.model or None)
    instrument = shop.instrument_or_typed(at.instrument)
    bench = Bench(store, plan, plan.part(at.part), at.build, instrument, at.bench, at.machine)
    bench.again = pending_again(bench)
    return bench


def pending_again(bench: Bench) -> BenchReading | None:
    """The reading that the next one corrects, where that was asked for and not done yet."""
    own = [
        item
        for item in bench.store.events(build=bench.build, part=bench.part.name)
        if item.kind in (AGAIN, *_ENDS_AGAIN)
    ]
    if not own or own[-1].kind != AGAIN:
        return None
    of, after = own[-1].body.get("of"), int(str(own[-1].body.get("after", 0)))
    rows = bench.rows()
    if any(row.sequence > after and not row.held and row.millionths is not None for row in rows):
        return None
    return next((row for row in rows if row.sequence == of and bench.has_place(row)), None)


def take_typed(
    bench: Bench,
    text: str,
    unit: str,
    token: str,
    *,
    wedge: bool = False,
    place: str = "",
    ago: dt.timedelta = dt.timedelta(0),
) -> Done:
    """Take a typed line at the next place; the same token again takes nothing more.

    `unit` is meant where the text names none and the place is a length. `wedge` says that an instrument typed
    it, so that a doubled and a frozen one are asked about. `place`, where given, is where the person believed
    to be: refused where another is next. It was typed so long `ago`, where it had to wait for its server.
    """
    announced = _announced(bench, token)
    taken = _taken(bench, str(announced.body.get("takes"))) if announced else None
    if taken is not None:
        return _told(bench, taken, unit)
    due = bench.next_place()
    wanted = due.characteristic.unit
    reading = read_typed(text[:MOST_TEXT], unit if wanted == "mm" else wanted)
    if isinstance(reading, BadRecord):
        return Done("refused", reading.why)
    if place and place != due.name and announced is None:
        return Done("refused", f"the next place is now {due.name}, not {place}: Enter stores it there")
    try:
        millionths_of(reading, due.characteristic)
        read_by(bench.instrument, due.characteristic, by_line=wedge)
    except ShopError as error:
        return Done("refused", str(error))
    at = str(announced.body["takes"]) if announced else _announce(bench, text, token, ago)
    return _told(bench, bench.take(as_sent(reading) if wedge else reading, text.strip(), at), unit)


def as_sent(typed: Reading) -> Reading:
    """A typed reading as one that its instrument typed, so that a doubled and a frozen one are looked for."""
    return replace(typed, raw=typed.raw.encode() if isinstance(typed.raw, str) else typed.raw)


def _announced(bench: Bench, token: str) -> BenchEvent | None:
    own = bench.store.events(TYPED, bench.build, bench.part.name)
    return next((item for item in own if item.body.get("token") == token), None)


def _taken(bench: Bench, at: str) -> BenchReading | None:
    """The row that was taken with that time."""
    return next((row for row in bench.rows() if row.taken_at == at), None)


def _announce(bench: Bench, text: str, token: str, ago: dt.timedelta) -> str:
    """Keep that a line is about to be taken, and with which time: when it was typed, or just after now."""
    now = bench.clock()
    named = bench.build, bench.part.name
    done = [item for item in bench.store.events(None, *named) if item.kind != TYPED]
    takes, _ = onward(now + LEAST, bench.rows(), done, now - ago if ago else None)
    body = {"token": token, "takes": takes}
    instrument = bench.instrument.id
    bench.store.add_event(BenchEvent(utc(now), TYPED, *named, instrument=instrument, text=text, body=body))
    return takes


def take_heard(bench: Bench, heard: BenchEvent, unit: str) -> Done:
    """Take a reading that was heard before a part was chosen, with the time it was heard."""
    taken = _taken(bench, heard.at)
    if taken is None:
        taken = bench.take(reading_of(heard), at=heard.at)
    settle(bench.store, heard, f"taken as {bench.build} {bench.part.name} {taken.characteristic}")
    return _told(bench, taken, unit)


def _told(bench: Bench, row: BenchReading, unit: str) -> Done:
    if row.held:
        return Done("held", say_held(row, unit))
    return Done("stored", row.place)


def press(bench: Bench, key: str, unit: str, text: str = "") -> Done:
    """Do what a key of `KEYS` stands for; `text` is the reason of a skip. ShopError for no such key."""
    if key == "u":
        return _undo(bench)
    if key == "r":
        return _read_again(bench)
    if key == "a":
        held = bench.doubted()
        if held is None:
            return Done("nothing", "there is no doubted reading to accept")
        bench.accept(held)
        return Done("done", f"accepted: {held.place}")
    if key == "p":
        bench.planed()
        return Done("done", "planed: the readings before it no longer count; read every place anew")
    if key == "s":
        return _skip(bench, text)
    raise ShopError(f"no key {key!r}; there are {', '.join(KEYS)}")


def _undo(bench: Bench) -> Done:
    if bench.again is not None and bench.doubted() is None:
        bench.undo()
        _mark(bench, AGAIN_BACK, {})
        return Done("done", "undone: the next reading corrects nothing")
    undone = bench.undo()
    if undone is None:
        return Done("nothing", "nothing to undo")
    return Done("done", f"undone: {undone.place or 'the pass of planing'}")


def _read_again(bench: Bench) -> Done:
    row = bench.read_again()
    if row is None:
        return Done("nothing", "there is no reading to be read again")
    if row.held:
        return Done("done", "the doubted reading stays out: read the place again")
    last = max((item.sequence for item in bench.rows()), default=0)
    _mark(bench, AGAIN, {"of": row.sequence, "after": last})
    return Done("done", f"the next reading corrects {row.place}")


def _skip(bench: Bench, text: str) -> Done:
    reason = text.strip()[:MOST_TEXT]
    if re.match(r"[+-]?\s*[.,]?\d", reason):
        return Done("refused", f"{reason!r} looks like a reading, not like a reason: nothing was skipped")
    place = bench.skip(reason or "no reason given")
    return Done("done", f"skipped {place.name}: {reason or 'no reason given'}")


def _mark(bench: Bench, kind: str, body: dict[str, object]) -> None:
    bench.store.add_event(BenchEvent(bench.moment(), kind, bench.build, bench.part.name, body=body))
