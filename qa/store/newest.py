"""Which builds of a store are asked for, the newest first: chosen and put in order by the database."""

from __future__ import annotations

from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import sqlalchemy as sa

from qa.store.chain import BUILDS, NAMED_AT_ONCE
from qa.store.schema import BEGUN_AT, builds, readings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from qa.store.store import Store

READINGS_A_BUILD = 50
"""How many of the newest readings are looked at first for each build wanted."""
_READ = sa.exists().where(readings.c.build == builds.c.build)
# Keys begin with the moment, so that their order is that of time; but those of before 1970 come after all.
_NEWEST_FIRST = sa.select(readings.c.build).where(readings.c.key < b"\x80").order_by(readings.c.key.desc())
_never_read: WeakKeyDictionary[sa.Engine, tuple[int, frozenset[str]]] = WeakKeyDictionary()
"""Up to which number a store's builds were looked through for those never read, and which they were."""


def newest(
    store: Store, model: str = "", bench: str = "", text: str = "", most: int | None = None
) -> list[str]:
    """Names of builds, begun last first: so many of one model, read at a bench, with `text` in the name.

    What is "" asks nothing; upper and lower case are alike in `text`. A few are looked for among the builds
    of the newest readings first, so that they cost no more among many builds.
    """
    query = sa.select(builds.c.build).where(*_asked(model, bench, text))
    query = query.order_by(BEGUN_AT.desc(), builds.c.build.desc()).limit(most)
    with store.reading() as connection:
        for lately in _lately(store, connection, most) if most else ():
            found = connection.execute(query.where(*lately)).scalars().all()
            if len(found) == most:
                return list(found)
        return list(connection.execute(query).scalars())


def _lately(store: Store, connection: sa.Connection, most: int) -> Iterator[list[sa.ColumnElement[bool]]]:
    """Conditions that hold for every build begun after a moment and for no other; earlier moments follow.

    A build begun after the moment of a reading has one of the readings newer than that, or none at all. As
    many readings as there are builds are not looked at: to put all builds in order costs no more.
    """
    last, rows = BUILDS.read_head(connection).sequence, READINGS_A_BUILD * most
    unread = _unread(store, connection, last) if rows < last else ()
    while rows < last and len(unread) <= NAMED_AT_ONCE:
        moment = _NEWEST_FIRST.with_only_columns(readings.c.taken_at).offset(rows).limit(1)
        since = connection.execute(moment).scalar()
        if since is None:
            return
        # For an empty list beside, PostgreSQL would look at every build.
        never_read = [builds.c.build.in_(unread)] if unread else []
        yield [sa.or_(builds.c.build.in_(_NEWEST_FIRST.limit(rows)), *never_read), since < BEGUN_AT]
        rows *= 4


def _asked(model: str, bench: str, text: str) -> list[sa.ColumnElement[bool]]:
    """The conditions on a build; none for what is ""."""
    asked = (
        (model, builds.c.model == model),
        (bench, _READ.where(readings.c.bench == bench)),
        (text, builds.c.build.icontains(text, autoescape=True)),
    )
    return [condition for word, condition in asked if word]


def _unread(store: Store, connection: sa.Connection, last: int) -> frozenset[str]:
    """Builds up to the last that had no reading when looked at: once each, for readings are never deleted."""
    looked, found = _never_read.get(store.engine, (0, frozenset()))
    if last > looked:
        query = sa.select(builds.c.build).where(builds.c.sequence > looked, ~_READ)
        found |= frozenset(connection.execute(query).scalars())
        _never_read[store.engine] = last, found
    return found


def models_begun(store: Store) -> list[str]:
    """The models that builds were begun of, by name."""
    with store.reading() as connection:
        return sorted(connection.execute(sa.select(builds.c.model).distinct()).scalars())


def how_many_builds(store: Store, model: str = "", bench: str = "", text: str = "") -> int:
    """How many builds the store has, of those that `newest` would name."""
    query = sa.select(sa.func.count()).select_from(builds).where(*_asked(model, bench, text))
    with store.reading() as connection:
        return int(connection.execute(query).scalar_one())
