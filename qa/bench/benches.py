"""Which benches each build was read at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import sqlalchemy as sa

from qa.store.schema import readings

if TYPE_CHECKING:
    from qa.store.store import Store


def benches_of(store: Store) -> dict[str, tuple[str, ...]]:
    """The benches of every build by name; a build read at none that was named is left out."""
    query = sa.select(readings.c.build, readings.c.bench).where(readings.c.bench != "").distinct()
    found: dict[str, list[str]] = {}
    with store.reading() as connection:
        for build, bench in connection.execute(query.order_by(readings.c.build, readings.c.bench)):
            found.setdefault(build, []).append(bench)
    return {build: tuple(names) for build, names in found.items()}
