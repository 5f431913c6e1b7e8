"""Which builds of a store are asked for, the newest first: chosen and put in order by the database."""

from __future__ import annotations

from typing import TYPE_CHECKING

import sqlalchemy as sa

from qa.store.schema import BEGUN_AT, builds, readings

if TYPE_CHECKING:
    from qa.store.store import Store


def newest(
    store: Store, model: str = "", bench: str = "", text: str = "", most: int | None = None
) -> list[str]:
    """Names of builds, begun last first: so many of one model, read at a bench, with `text` in the name.

    What is "" asks nothing; upper and lower case are alike in `text`.
    """
    own = readings.c.build == builds.c.build
    query = sa.select(builds.c.build)
    if model:
        query = query.where(builds.c.model == model)
    if bench:
        query = query.where(sa.exists().where(own, readings.c.bench == bench))
    if text:
        query = query.where(builds.c.build.icontains(text, autoescape=True))
    query = query.order_by(BEGUN_AT.desc(), builds.c.build.desc()).limit(most)
    with store.reading() as connection:
        return list(connection.execute(query).scalars())


def models_begun(store: Store) -> list[str]:
    """The models that builds were begun of, by name."""
    with store.reading() as connection:
        return sorted(connection.execute(sa.select(builds.c.model).distinct()).scalars())


def how_many_builds(store: Store) -> int:
    """How many builds the store has."""
    with store.reading() as connection:
        return int(connection.execute(sa.select(sa.func.count()).select_from(builds)).scalar_one())
