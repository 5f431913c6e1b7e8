"""`dryfit backup`, `restore` and `move-store`: the safety of the record."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, QuietOption, ShopOption, open_shop, print_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from qa.store_copy import Copied


def add_to(app: typer.Typer) -> None:
    app.command()(backup)
    app.command()(restore)
    app.command("move-store")(move_store)


def backup(
    file: Annotated[
        Path | None, typer.Argument(help="The new file; else backup-DATE.db in the shop.")
    ] = None,
    shop: ShopOption = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Write the whole store into one new file, while it may be in use, and check it.

    Example: dryfit backup /media/stick/shop.db
    """
    import datetime as dt

    from qa.store_copy import backup as write_backup

    with open_shop(shop) as (found, store):
        today = dt.datetime.now().astimezone().strftime("%Y-%m-%d-%H%M%S")
        target = file or found.folder / f"backup-{today}.db"
        _tell(write_backup(store, target, _shown(quiet)), f"Backed up to {target}", as_json, quiet)


def restore(
    file: Annotated[Path, typer.Argument(help="A backup.")],
    shop: ShopOption = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Fill the shop's store, which must be empty, from a backup, and check it.

    Example: dryfit restore /media/stick/shop.db
    """
    from qa.store_copy import restore as fill

    with open_shop(shop) as (_, store):
        _tell(fill(file, store, _shown(quiet)), f"Restored from {file}", as_json, quiet)


def move_store(
    url: Annotated[str, typer.Argument(help="sqlite:///FILE or postgresql+psycopg://user@host/database")],
    shop: ShopOption = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Copy the store into another database row for row, check it, and write the new one into shop.toml.

    The old store stays as it is. Stop measuring meanwhile: what is read after the copy began is not in it.

    Example: dryfit move-store postgresql+psycopg://bench@localhost/shop
    """
    from qa.shop import FILE, absolute_store, write_store_url
    from qa.store import open_store
    from qa.store_copy import copy

    with open_shop(shop) as (found, store), open_store(absolute_store(url, found.folder)) as target:
        copied = copy(store, target, _shown(quiet))
        write_store_url(found.folder, url)
        _tell(copied, f"Moved, and {FILE} names the new store", as_json, quiet)


def _shown(quiet: bool) -> Callable[[int], None]:
    return (lambda rows: None) if quiet else _progress


def _progress(rows: int) -> None:
    if sys.stderr.isatty() and rows >= 50_000:
        typer.echo(f"\r{rows:,} rows copied", err=True, nl=False)


def _tell(copied: Copied, what: str, as_json: bool, quiet: bool) -> None:
    if as_json:
        print_json({"rows": copied.rows, "digest": copied.digest})
        return
    if quiet:
        return
    counts = ", ".join(f"{count} {table}" for table, count in copied.rows.items())
    typer.echo(f"{what}: {counts}; checked, digest {copied.digest[:16]}.")
