"""Which benches were ever read at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import sqlalchemy as sa

from qa.store.schema import readings

if TYPE_CHECKING:
    from qa.store.store import Store


def benches_since(store: Store, after: int = 0) -> set[str]:
    """The benches named by readings stored after a sequence; by any reading, without one."""
    query = sa.select(readings.c.bench).where(readings.c.bench != "", readings.c.sequence > after).distinct()
    with store.reading() as connection:
        return set(connection.execute(query).scalars())
