"""The pages, in the order of the navigation. A new page is one module here with a `PAGE`, and one name."""

from __future__ import annotations

import importlib

from dashboard.page import Page

PAGES = (
    *("bench", "builds", "build", "glueup", "decide"),
    *("drift", "calipers", "caliper_check", "caliper_study", "plans", "plan_edit", "plan_new"),
)


def load_pages() -> list[Page]:
    """Every page, in order."""
    return [importlib.import_module(f"{__name__}.{name}").PAGE for name in PAGES]
