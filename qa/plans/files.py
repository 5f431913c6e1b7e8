"""Saves plans into a shop's folder: whole or not at all, and never over a change someone else made."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from qa.errors import PlanChanged, PlanError, PlanProblem, ShopError
from qa.plans.plan import Plan, load_plan, read_plan
from qa.whole import write_whole

if TYPE_CHECKING:
    from qa.shop import Shop
    from qa.store.store import Store


def plan_path(shop: Shop, plan: Plan) -> Path:
    """The file a plan was read from."""
    return shop.folder / "plans" / f"{plan.name}.toml"


def save_plan(path: Path, text: str, was: str) -> None:
    """Write a plan's text in place of the one whose digest is `was`, whole or not at all.

    PlanError where the text is no valid plan, or where another file is the same revision. PlanChanged where
    the file is another by now, ShopError where it is gone or cannot be written.
    """
    plan = read_plan(text, path.name)
    unchanged(path, was)
    for other in _others(path):
        if (other.model, other.since) == (plan.model, plan.since):
            why = f"{other.name}.toml holds for the same builds of {plan.model!r}: choose another day"
            raise PlanError([PlanProblem(path.name, None, "since", why)])
    _write(path, text)


def unchanged(path: Path, was: str) -> None:
    """PlanChanged where a plan's file is not the one whose digest is `was` any more, ShopError where gone."""
    if _digest(path) != was:
        raise PlanChanged(
            f"{path.name} was changed by someone else since it was opened here, so nothing was saved: "
            "open it again, and change it there"
        )


def _others(path: Path) -> Iterator[Plan]:
    """The other plans of the folder, as far as they can be read."""
    for other in sorted(path.parent.glob("*.toml")):
        if other != path:
            with suppress(PlanError):
                yield load_plan(other)


def add_plan(shop: Shop, text: str, model: str) -> Path:
    """Write a plan's text as that of a new model, in a file of its own.

    PlanError where the text is no valid plan then. ShopError where there is such a model, or its file.
    """
    from qa.plans.edit import PLAN, edited

    if not model.strip():
        raise ShopError("Name the model: it is what its builds will be builds of.")
    if model.strip() in shop.plans:
        raise ShopError(
            f"There is a plan of {model.strip()!r} already: change that one, or choose another name."
        )
    return _add(shop, edited(text, PLAN, "plan.toml", {"model": model}), model.strip())


def _add(shop: Shop, text: str, called: str) -> Path:
    name = re.sub(r"[^\w-]+", "-", called.lower()).strip("-") or "plan"
    path = shop.folder / "plans" / f"{name}.toml"
    if path.exists():
        raise ShopError(f"{path.name} is there already: choose another name, or rename that file")
    try:
        path.parent.mkdir(exist_ok=True)
    except OSError as error:
        raise ShopError(f"{path.parent} cannot be made: {error.strerror}") from error
    _write(path, text)
    return path


def add_revision(shop: Shop, text: str) -> Path:
    """Write a plan's text with its `since` as a file of its own, beside the revisions there are.

    PlanError where the text is no valid plan. ShopError where there is a revision since that day already.
    """
    plan = read_plan(text, "revision.toml")
    if plan.since is None:
        raise ShopError("a revision needs a day from which it holds")
    for other in shop.plans.get(plan.model, ()):
        if other.since == plan.since:
            raise ShopError(
                f"{other.name}.toml holds since {plan.since} already: choose another day, or edit it"
            )
    return _add(shop, text, f"{plan.model}-{plan.since.isoformat()}")


def left_behind(store: Store, plan: Plan, text: str) -> None:
    """ShopError where a plan's text names another model, so that builds of this one would have no plan."""
    model = read_plan(text, f"{plan.name}.toml").model
    builds = [build.name for build in store.builds().values() if build.model == plan.model]
    if model != plan.model and builds:
        few = f"{', '.join(builds[:3])}{' ...' if builds[3:] else ''}"
        raise ShopError(
            f"Builds of {plan.model!r} are in the record ({few}), "
            "and a build keeps the model it began with: leave the model's name, or start a new plan."
        )


def judged_by(shop: Shop, store: Store, plan: Plan) -> list[str]:
    """The builds that a plan's revision judges, in the order begun."""
    return [
        build.name
        for build in store.builds().values()
        if build.model in shop.plans and shop.plan(build.model, build.begun).digest == plan.digest
    ]


def judged_since(shop: Shop, store: Store, plan: Plan, since: dt.date) -> list[str]:
    """The builds that a plan judges now and that a revision of it holding `since` a day would judge."""
    begun = {build.name: build.begun for build in store.builds().values()}
    return [name for name in judged_by(shop, store, plan) if begun[name] >= since]


def _digest(path: Path) -> str:
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ShopError(f"{path.name} cannot be read any more, so nothing was saved: {error}") from error
    return hashlib.sha256(text.encode()).hexdigest()


def _write(path: Path, text: str) -> None:
    try:
        write_whole(path, text)
    except OSError as error:
        raise ShopError(f"{path.name} cannot be written, so nothing was saved: {error.strerror}") from error
