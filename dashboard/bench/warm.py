"""Loads what verdicts are reckoned with while the page opens, so that no first press waits for it."""

from __future__ import annotations

import threading
from functools import cache
from importlib import import_module


@cache
def warm_up() -> None:
    """Load it once, in a thread of its own."""
    threading.Thread(target=import_module, args=("scipy.special",), name="warms up", daemon=True).start()
