"""Dates as builders write them, 03/04/2025 or 3 March 2025, to ISO 8601; their order never guessed."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable

from qa.logs.form import MOMENT

ORDERS = {"day first": "dmy", "month first": "mdy", "year first": "ymd"}
_ISO = re.compile(MOMENT)
_DATE = re.compile(
    r"(\d{1,4}|[a-z]{3,9})\.?[\s./,-]+(\d{1,2}|[a-z]{3,9})(?:st|nd|rd|th)?[\s./,-]+(\d{1,4})(?:[\s,T]+(.+))?",
    re.IGNORECASE,
)
_TIME = re.compile(r"(\d{1,2})[:.](\d{2})(?:[:.](\d{2})(?:\.\d+)?)?\s*(?:([ap])\.?m\.?)?", re.IGNORECASE)
_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
    "november", "december",
)  # fmt: skip


def iso_time(text: str) -> str:
    """A time of day as ISO 8601 from "9:30", "9.30 am" or "14:05:10"; "" where it is none."""
    match = _TIME.fullmatch(text.strip())
    if not match:
        return ""
    hour, half = int(match[1]), (match[4] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return ""
        hour = hour % 12 + (12 if half == "p" else 0)
    second = int(match[3] or 0)
    return f"{hour:02}:{match[2]}:{second:02}" if max(int(match[2]), second) < 60 and hour < 24 else ""


def possible_dates(text: str) -> dict[str, str]:
    """What a date may mean, in ISO 8601, by the order of day, month and year; nothing where it is no date.

    The order "" stands for a date that is settled by itself: ISO 8601, a year of four digits first, or the
    name of a month (English) that leaves one reading. A year of two digits is of this century.
    """
    if _ISO.fullmatch(text):
        return {"": text}
    match = _DATE.fullmatch(re.sub(r"(?<=\d)(?:st|nd|rd|th)\b", "", text, flags=re.IGNORECASE))
    time = iso_time(match[4]) if match and match[4] else ""
    if not match or (match[4] and not time):
        return {}
    parts = match[1], match[2], match[3]
    ways = {order: day for order, letters in ORDERS.items() if (day := _day(letters, parts))}
    year = [len(part) == 4 and part.isdigit() for part in parts]
    if ways and (year[0] or (year[2] and not all(part.isdigit() for part in parts))):
        ways = {"": next(iter(ways.values()))}
    return {order: f"{day.isoformat()}T{time}" if time else day.isoformat() for order, day in ways.items()}


def _day(letters: str, parts: tuple[str, ...]) -> dt.date | None:
    by_letter = dict(zip(letters, parts, strict=True))
    year, month, day = by_letter["y"], _month(by_letter["m"]), by_letter["d"]
    if not (year.isdigit() and day.isdigit() and len(year) in (2, 4) and len(day) <= 2 and month):
        return None
    try:
        return dt.date(int(year) + (2000 if len(year) == 2 else 0), month, int(day))
    except ValueError:
        return None


def _month(text: str) -> int:
    if text.isdigit():
        return int(text) if len(text) <= 2 else 0
    near = [place for place, name in enumerate(_MONTHS, 1) if name.startswith(text.lower())]
    return near[0] if len(near) == 1 else 9 if text.lower() == "sept" else 0


def date_orders(texts: Iterable[str]) -> tuple[list[str], str]:
    """The orders in which every date can be read, and a date that more than one of them would change.

    Dates settled by themselves, and texts that are no dates, have no say. Without a date that needs an order
    there is none and "".
    """
    unsettled = {text: ways for text in texts if (ways := possible_dates(text)) and "" not in ways}
    if not unsettled:
        return [], ""
    orders = [order for order in ORDERS if all(order in ways for ways in unsettled.values())]
    asked = orders or list(dict.fromkeys(order for ways in unsettled.values() for order in ways))
    for text, ways in unsettled.items():
        if len({ways.get(order) for order in asked}) > 1:
            return asked, text
    return asked[:1], ""


def iso_date(text: str, order: str) -> str:
    """A date in ISO 8601; as it was written where it is none, or the order does not fit it."""
    ways = possible_dates(text)
    return ways.get("") or ways.get(order) or text
