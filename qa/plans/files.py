"""Saves plans into a shop's folder: whole or not at all, and never over a change someone else made."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import re
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from qa.errors import ShopError
from qa.plans.plan import Plan, read_plan

if TYPE_CHECKING:
    from qa.shop import Shop
    from qa.store.store import Store


def plan_path(shop: Shop, plan: Plan) -> Path:
    """The file a plan was read from."""
    return shop.folder / "plans" / f"{plan.name}.toml"


def save_plan(path: Path, text: str, was: str) -> None:
    """Write a plan's text in place of the one whose digest is `was`, whole or not at all.

    PlanError where the text is no valid plan. ShopError where the file is another by now, is gone, or cannot
    be written.
    """
    read_plan(text, path.name)
    if _digest(path) != was:
        raise ShopError(
            f"{path.name} was changed by someone else since it was opened here, so nothing was saved: "
            "open it again, and change it there"
        )
    _write(path, text, mode=path.stat().st_mode)


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
    name = re.sub(r"[^\w-]+", "-", plan.model.lower()).strip("-") or "plan"
    path = shop.folder / "plans" / f"{name}-{plan.since.isoformat()}.toml"
    if path.exists():
        raise ShopError(f"{path.name} is there already: choose another day, or rename that file")
    _write(path, text, mode=0o644)
    return path


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


def _write(path: Path, text: str, mode: int) -> None:
    """A file of its own first, then renamed: a reader sees the old text or the new one, never half of it."""
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(text.encode())
                stream.flush()
                os.fsync(stream.fileno())
            Path(name).chmod(mode & 0o777)
            Path(name).replace(path)
        except OSError:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise ShopError(f"{path.name} cannot be written, so nothing was saved: {error.strerror}") from error
