"""What the commands share: the shop asked for, printing, and lengths in the shop's unit."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from qa.shop import Shop
    from qa.store.store import Store

ShopOption = Annotated[
    str | None,
    typer.Option("--shop", metavar="DIR", help="The shop's folder; else DRYFIT_SHOP, else this one."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]
SHOWN_PROBLEMS = 20
"""Of more problems the rest are counted."""
SEEN_BY_ALL = (
    'shop.toml holds the password of the store for all to read: write store = "env:DRYFIT_STORE" there, and '
    "keep the address in that environment variable"
)
QuietOption = Annotated[
    bool, typer.Option("--quiet", "-q", help="Say nothing but what is wrong, and show no progress.")
]
ModelOption = Annotated[
    str | None,
    typer.Option("--model", metavar="NAME", help="The model, where the shop has plans of several."),
]


def shop_of(named: str | None) -> Shop:
    """The shop asked for, by option, environment or the current folder."""
    from qa.shop import find_folder, load_shop

    return load_shop(find_folder(named))


@contextmanager
def open_shop(named: str | None, at_bench: bool = False) -> Iterator[tuple[Shop, Store]]:
    """The shop asked for and its open store; at a bench, one that goes on while its server is gone."""
    from qa.store.spool import open_at_bench
    from qa.store.store import open_store

    shop = shop_of(named)
    _warn_of_password(shop)
    with open_at_bench(shop) if at_bench else open_store(shop.store_url) as store:
        yield shop, store


def _warn_of_password(shop: Shop) -> None:
    """Say on stderr that whoever reads shop.toml, or a backup of it, has the store's password."""
    if shop.password_in_file:
        typer.echo(f"dryfit: warning: {SEEN_BY_ALL}", err=True)


def print_json(document: object) -> None:
    """One JSON document on stdout."""
    typer.echo(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False))


def rounded(value: float | None) -> float | None:
    """A computed value without the dust of binary fractions: to a millionth of its unit."""
    return None if value is None else round(value, 6) + 0.0


def age_hours(taken_at: str) -> float:
    """How long ago a moment (ISO 8601) was, in hours to a tenth."""
    age = dt.datetime.now(dt.UTC) - dt.datetime.fromisoformat(taken_at)
    return round(age.total_seconds() / 3600, 1)


def shown(value: float | None, unit: str, shop_unit: str) -> str:
    """An amount for people: lengths in the shop's unit, blank where there is none."""
    from qa.bench.speech import amount

    return "" if value is None else amount(value, unit, shop_unit)


def print_table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Columns that keep their whole text, whatever the width of the terminal."""
    lines = [list(head), *map(list, rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    for number, line in enumerate(lines):
        text = "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        typer.echo(typer.style(text, bold=True) if number == 0 else text)
