"""The shop's whole drift, worked out once and kept until something is stored or a plan changes."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from dashboard.desk import Desk

if TYPE_CHECKING:
    from qa.drift_report import DriftReport

_kept: WeakKeyDictionary[Desk, tuple[Any, DriftReport]] = WeakKeyDictionary()
_turns: WeakKeyDictionary[Desk, threading.Lock] = WeakKeyDictionary()
_guard = threading.Lock()


def stand(desk: Desk) -> dict[str, object]:
    """Where the shop's files and store stand; what instruments are heard saying does not count."""
    position = desk.position()
    return {name: position[name] for name in ("files", "started", "mark")}


def shop_report(desk: Desk) -> DriftReport:
    """The report on every series of the shop. Several who ask at once wait for the same one."""
    from qa.drift_report import report

    with _guard:
        turn = _turns.setdefault(desk, threading.Lock())
    with turn:
        now = stand(desk)
        kept = _kept.get(desk)
        if kept is None or kept[0] != now:
            kept = (now, report(desk.shop(), desk.store()))
            _kept[desk] = kept
        return kept[1]
