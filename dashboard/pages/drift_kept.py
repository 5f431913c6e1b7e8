"""The shop's whole drift, worked out once and kept until something is stored or a plan changes."""

from __future__ import annotations

import threading
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor, wait
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from dashboard.desk import Desk

if TYPE_CHECKING:
    from qa.drift_report import DriftReport

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
    while True:
        try:
            found: DriftReport = _asked(desk).result()
        except CancelledError:  # something was stored before its turn came
            continue
        return found


def is_ready(desk: Desk, seconds: float) -> bool:
    """Whether the report is there within that time; if not, it is being worked out."""
    return bool(wait([_asked(desk)], seconds).done)


def _asked(desk: Desk) -> Future[Any]:
    from qa.drift_report import report

    with _turn:
        now = stand(desk)
        kept = _kept.get(desk)
        if kept is None or kept[0] != now:
            if kept is not None:
                kept[1].cancel()
            shop, store = desk.shop(), desk.store()
            kept = (now, _worker.submit(report, shop, store))
            _kept[desk] = kept
        return kept[1]
