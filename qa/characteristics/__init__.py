"""The kinds of characteristics. A new kind is one module here with a `KINDS` tuple; nothing else changes."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from qa.characteristics.base import Kind


@cache
def kinds() -> dict[str, Kind]:
    """Every kind by its name, gathered from the modules of this package."""
    found: dict[str, Kind] = {}
    for module in pkgutil.iter_modules(__path__):
        for kind in getattr(importlib.import_module(f"{__name__}.{module.name}"), "KINDS", ()):
            found[kind.name] = kind
    return found
