"""The state of one bench as the browser holds it: for the ear, the screen reader and the next act."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from qa.bench.at_bench import Chosen, chosen
from qa.bench.speech import say_held, say_judged
from qa.bench.view import BenchView

if TYPE_CHECKING:
    from dashboard.desk import Desk
    from qa.shop import Shop


def state_of(desk: Desk, shop: Shop, at: Chosen, view: BenchView, stand: str) -> dict[str, Any]:
    """A dictionary for the browser; `mark` changes with every row of the part.

    `stand` is where the part stood before it was looked at: while it stands there nothing is drawn anew.
    """
    has_line = shop.instrument_or_typed(at.instrument).url is not None
    here = chosen(desk.bench_store(), at.instrument) if has_line else at
    elsewhere = here is None or (here.build, here.part) != (at.build, at.part)
    standing = desk.hearing.standing(at.instrument) if desk.hearing else None
    return {
        "build": at.build,
        "part": at.part,
        "by": at.instrument,
        "bench": at.bench,
        "machine": at.machine,
        "model": at.model,
        "unit": shop.unit,
        "place": view.place.name,
        "mark": view.mark,
        "stand": stand,
        "cue": view.cue,
        "said": said(view, shop.unit),
        "elsewhere": elsewhere,
        "line": standing.line if standing else "",
        "age": standing.age() if standing else None,
        "bad": standing.bad if standing else 0,
        "bad_said": f"not understood: {standing.last_bad[1]}" if standing and standing.bad else "",
    }


def said(view: BenchView, unit: str) -> str:
    """The last reading, what it completes and the next place, as one would say them aloud."""
    following = f"Next: {view.place.name}."
    if view.last is None:
        return following
    if view.held:
        return f"{say_held(view.last, unit)}."
    told = [say_judged(item, unit) for item in (view.judged, *view.shape) if item is not None]
    aloud = " ".join([*(f"{words}." for words in told), following])
    return re.sub(r"(?<!\w)-(?=\d)", "minus ", aloud).replace("-", " ")
