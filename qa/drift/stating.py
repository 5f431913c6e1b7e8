"""A fix as a screen states it: kept once, however often it is sent."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qa.drift.fixes import fixes, state_fix
from qa.errors import CannotSay

if TYPE_CHECKING:
    from qa.drift.fixes import Fix
    from qa.shop import Shop
    from qa.store.store import Store


@dataclass(frozen=True, slots=True)
class Concerns:
    """What a fix was done to: a machine, or a part or one characteristic of it; all "" for nothing named."""

    machine: str = ""
    part: str = ""
    characteristic: str = ""

    @property
    def words(self) -> str:
        return self.machine or f"{self.part} {self.characteristic}".strip()


@dataclass(frozen=True, slots=True)
class Stated:
    """A fix that is kept, and whether it was kept now or had been already in the same words."""

    text: str
    day: dt.date
    of: Concerns
    anew: bool


def state_once(shop: Shop, store: Store, text: str, day: str, of: Concerns, now: dt.datetime) -> Stated:
    """Keep a fix of a day (ISO 8601; today where blank) unless the same was stated for that day already.

    A fix of today counts from this moment, one of an earlier day from that day's start by the shop's clock.
    CannotSay where nothing is said of what was done, or the day is none or has not come. Callers of one
    process take turns by a lock of their own.
    """
    said, zone = " ".join(text.split()), shop.zone()
    if not said:
        raise CannotSay("Say in a few words what was put right, such as: new fence.")
    today = now.astimezone(zone).date()
    on = _day(day, today)
    if any(_same(fix, said, on, of, zone) for fix in fixes(store)):
        return Stated(said, on, of, anew=False)
    moment = now if on == today else dt.datetime.combine(on, dt.time(), zone)
    state_fix(store, said, moment, of.machine, of.part, of.characteristic)
    return Stated(said, on, of, anew=True)


def kept_words(stated: Stated) -> str:
    """What was kept and what it does, in a sentence."""
    of = stated.of.words
    begins = f"charts of what comes from {of} begin anew" if of else "it is drawn on every chart"
    again = "Kept" if stated.anew else "It was kept already"
    return f"{again}: {stated.text}, {stated.day.isoformat()}; {begins} with the builds after it."


def _day(written: str, today: dt.date) -> dt.date:
    if not written.strip():
        return today
    try:
        day = dt.date.fromisoformat(written.strip())
    except ValueError:
        raise CannotSay(f"{written!r} is not a date; write it like {today.isoformat()}.") from None
    if day > today:
        raise CannotSay(f"{written} has not come yet: state a fix once it is done.")
    return day


def _same(fix: Fix, text: str, day: dt.date, of: Concerns, zone: dt.tzinfo) -> bool:
    on = dt.datetime.fromisoformat(fix.at).astimezone(zone).date()
    concerned = Concerns(fix.machine, fix.part, fix.characteristic)
    return (fix.text, on, concerned, fix.instrument) == (text, day, of, "")
