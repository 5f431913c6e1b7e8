"""The shop's whole drift, worked out once and kept until something is stored or a plan changes."""

from __future__ import annotations

import threading
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor, wait
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from dashboard.desk import Desk

if TYPE_CHECKING:
    from qa.drift.report import DriftReport
    from qa.shop import Shop
    from qa.store.store import Store

Stand = dict[str, object]
_worker = ThreadPoolExecutor(1, "drift")
"""One at a time: the arithmetic of a report would only be slower beside another's."""
_kept: WeakKeyDictionary[Desk, tuple[Stand, Future[Any]]] = WeakKeyDictionary()
_turn = threading.Lock()


def stand(desk: Desk) -> Stand:
    """Where the shop's files and store stand; what instruments are heard saying does not count."""
    position = desk.position()
    return {name: position[name] for name in ("files", "started", "mark")}


def shop_report(desk: Desk) -> DriftReport:
    """The report on every series of the shop. Several who ask at once wait for the same one."""
    return _found(desk)[0]


def count_of_builds(desk: Desk) -> int:
    """How many builds the shop has had by that report, those too that are older than it looks back."""
    return _found(desk)[1]


def _found(desk: Desk) -> tuple[DriftReport, int]:
    while True:
        try:
            found: tuple[DriftReport, int] = _asked(desk).result()
        except CancelledError:  # something was stored before its turn came
            continue
        return found


def is_ready(desk: Desk, seconds: float) -> bool:
    """Whether the report is there within that time; if not, it is being worked out."""
    return bool(wait([_asked(desk)], seconds).done)


def _made(shop: Shop, store: Store) -> tuple[DriftReport, int]:
    from qa.drift.report import report

    return report(shop, store), len(store.builds())


def _asked(desk: Desk) -> Future[Any]:
    with _turn:
        now = stand(desk)
        kept = _kept.get(desk)
        if kept is None or kept[0] != now:
            if kept is not None:
                kept[1].cancel()
            shop, store = desk.shop(), desk.store()
            kept = (now, _worker.submit(_made, shop, store))
            _kept[desk] = kept
        return kept[1]
