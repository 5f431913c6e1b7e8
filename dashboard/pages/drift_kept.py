"""The shop's whole drift, worked out once and kept until something is stored or a plan changes."""

from __future__ import annotations

import threading
import time
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor, wait
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from dashboard.desk import Desk

if TYPE_CHECKING:
    from qa.drift.report import DriftReport
    from qa.shop import Shop
    from qa.store.store import Store

Stand = dict[str, object]
RESTS, MOST_S = 5, 15.0
"""Readings are taken in after a rest of so many times as long as the report took; so many seconds at most."""
_worker = ThreadPoolExecutor(1, "drift")
"""One at a time: the arithmetic of a report would only be slower beside another's."""
_kept: WeakKeyDictionary[Desk, tuple[Stand, Future[DriftReport]]] = WeakKeyDictionary()
_took: WeakKeyDictionary[Desk, float] = WeakKeyDictionary()
_turn = threading.Lock()


def stand(desk: Desk) -> Stand:
    """Where the shop's files and store stand; what instruments are heard saying does not count."""
    position = desk.position()
    return {name: position[name] for name in ("files", "started", "mark")}


def shop_report(desk: Desk) -> DriftReport:
    """The report on every series of the shop. Several who ask at once wait for the same one."""
    while True:
        try:
            return _asked(desk).result()
        except CancelledError:  # something was stored before its turn came
            continue


def rest_s(desk: Desk) -> float:
    """How long nothing should have been stored before the report is worked out again by itself; seconds."""
    return min(RESTS * _took.get(desk, 0.0), MOST_S)


def is_ready(desk: Desk, seconds: float) -> bool:
    """Whether the report is there within that time; if not, it is being worked out."""
    return bool(wait([_asked(desk)], seconds).done)


def _made(desk: Desk, shop: Shop, store: Store) -> DriftReport:
    from qa.drift.report import report

    began = time.thread_time()
    found = report(shop, store)
    # The first one loads what the arithmetic needs too, so that its time tells nothing of the next.
    _took[desk] = time.thread_time() - began if desk in _took else 0.0
    return found


def _asked(desk: Desk) -> Future[DriftReport]:
    with _turn:
        now = stand(desk)
        kept = _kept.get(desk)
        if kept is None or kept[0] != now:
            if kept is not None:
                kept[1].cancel()
            shop, store = desk.shop(), desk.store()
            kept = (now, _worker.submit(_made, desk, shop, store))
            _kept[desk] = kept
        return kept[1]
