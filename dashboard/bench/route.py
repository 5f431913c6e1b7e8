"""Where the Bench page sends what a person does: one address, one answer, each token acted on once."""

from __future__ import annotations

import datetime as dt
import random
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from dash import Dash
from fastapi import Body

from drivers.errors import DriverError
from qa.bench.acts import MOST_TEXT, Done, open_bench, press, take_heard, take_typed
from qa.bench.at_bench import Chosen, choose, lay_down, settle, unplaced
from qa.bench.view import likely
from qa.errors import QaError, ShopError, StoreError

if TYPE_CHECKING:
    from dashboard.desk import Desk
    from qa.record import BenchEvent

ADDRESS = "/bench/act"
REMEMBERED = 500
NOISE_MM = 0.01
LONGEST_WAIT = dt.timedelta(days=7)


def register_route(app: Dash, desk: Desk) -> None:
    """Add the address to the app."""
    acts = Acts(desk)

    def act(asked: dict[str, Any] = Body()) -> dict[str, str]:  # noqa: B008 - the way of the library
        return acts.do({name: str(value) for name, value in asked.items() if value is not None})

    app.server.add_api_route(ADDRESS, act, methods=["POST"], include_in_schema=False)


class Acts:
    """Does what is asked at a bench.

    Asked are names and texts: `do` (a key, or type, choose, press, ask, take-heard, let-go), `token`,
    `build`, `part`, `by` and what the act needs. The answer has `kind` (of `Done`, or "later" where the
    store cannot take it now) and `say`.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._answers: OrderedDict[str, Done] = OrderedDict()

    def do(self, asked: Mapping[str, str]) -> dict[str, str]:
        """Act once for each token, and answer the same again."""
        token = asked.get("token", "")
        with self._desk.at_bench:
            if token and token in self._answers:
                return _answer(self._answers[token])
            try:
                done = self._act(asked)
            except StoreError as error:
                return {"kind": "later", "say": str(error)}
            except (QaError, DriverError) as error:
                done = Done("refused", str(error))
            self._remember(token, done)
        self._desk.lookout.wake()
        return _answer(done)

    def _remember(self, token: str, done: Done) -> None:
        if token and done.kind != "refused":
            self._answers[token] = done
            while len(self._answers) > REMEMBERED:
                self._answers.popitem(last=False)

    def _act(self, asked: Mapping[str, str]) -> Done:
        do, store = asked.get("do", ""), self._desk.bench_store()
        shop = self._desk.shop(asked.get("unit"))
        told = (
            asked.get(name, "")[:MOST_TEXT] for name in ("by", "build", "part", "model", "bench", "machine")
        )
        at = Chosen(*told)
        if do == "q":
            lay_down(store, at.instrument)
            return Done("done", "put down")
        if do == "let-go":
            settle(store, self._heard(asked), "let go")
            return Done("done", "let go")
        if do == "ask" and self._desk.hearing is not None:
            self._desk.hearing.ask(at.instrument)
            return Done("done", "asked for a reading")
        if do == "take-heard":  # by the instrument that sent it, whichever reads here now
            heard = self._heard(asked)
            by_it = replace(at, instrument=heard.instrument)
            return take_heard(open_bench(shop, store, by_it), heard, shop.unit)
        bench = open_bench(shop, store, at)
        if do == "choose":
            choose(store, at)
            return Done("done", f"{at.instrument or 'what is typed'} now reads {bench.part.title}")
        if do == "type":
            wedge = bool(asked.get("wedge"))
            place, token = asked.get("place", ""), asked.get("token", "")
            text, ago = asked.get("text", ""), _ago(asked.get("ago", ""))
            return take_typed(bench, text, shop.unit, token, wedge=wedge, place=place, ago=ago)
        if do == "press":
            choose(store, at)  # a click as the page opens may come before the page has put the part to it
            return self._press(likely(bench.next_place()))
        return press(bench, do, shop.unit, asked.get("text", ""))

    def _heard(self, asked: Mapping[str, str]) -> BenchEvent:
        of = asked.get("of", "")
        found = next((item for item in unplaced(self._desk.bench_store()) if str(item.sequence) == of), None)
        if found is None:
            raise ShopError("that reading was dealt with already")
        return found

    def _press(self, value: float | None) -> Done:
        """Press the data button of the make-believe caliper, on a value one might read there."""
        if self._desk.press is None:
            raise ShopError("there is no make-believe caliper here; `dryfit demo` has one")
        if value is None:
            raise ShopError("the make-believe caliper reads lengths only; type this one, or skip it")
        self._desk.press(value + random.gauss(0.0, NOISE_MM))
        return Done("done", "the make-believe caliper was pressed")


def _ago(milliseconds: str) -> dt.timedelta:
    """How long ago a line was typed, by the browser's own clock; no time at all where it does not say."""
    known = milliseconds.isascii() and milliseconds.isdecimal()
    return min(dt.timedelta(milliseconds=int(milliseconds[:12])), LONGEST_WAIT) if known else dt.timedelta(0)


def _answer(done: Done) -> dict[str, str]:
    return {"kind": done.kind, "say": done.say}
