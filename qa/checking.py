"""Verdicts on what the store holds, by the plan revision each build was begun under."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from qa.errors import ShopError
from qa.judge import JudgedBuild, judge_build
from qa.plan import Plan, unknown
from qa.shop import Shop
from qa.store import Store


def plan_of(shop: Shop, store: Store, build: str, model: str | None = None) -> Plan:
    """The plan revision a build is judged by; a build not begun takes the model named, or the only one.

    ShopError where the build was begun as another model than the one named.
    """
    known = store.build(build)
    if known is None:
        return shop.plan(shop.model(model), dt.datetime.now(dt.UTC).date())
    if model and shop.model(model) != known.model:
        raise ShopError(f"build {build} was begun as {known.model!r}, not {model!r}; use another build name")
    return shop.plan(known.model, known.begun)


def check(shop: Shop, store: Store, build: str | None = None, part: str | None = None) -> list[JudgedBuild]:
    """The verdicts on one build or on all, oldest first; on one part or on all.

    ShopError names the near ones where a build or part is not known.
    """
    builds = list(store.builds())
    if build is not None and build not in builds:
        raise ShopError(unknown("build", build, builds))
    judged = [_check_build(shop, store, name) for name in ([build] if build else builds)]
    if part is None:
        return judged
    known = {item.part for one in judged for item in one.parts}
    if part not in known:
        raise ShopError(unknown("part", part, known))
    return [replace(one, parts=tuple(p for p in one.parts if p.part == part)) for one in judged]


def _check_build(shop: Shop, store: Store, build: str) -> JudgedBuild:
    plan = plan_of(shop, store, build)
    return judge_build(build, plan, store.readings(build), shop.instrument_or_typed)
