"""`dryfit backup`, `restore`, `move-store` and `verify`: the safety of the record."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, QuietOption, ShopOption, open_shop, print_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from qa.store.copy import Copied

HEAD = r"\d{1,18}(\.\d{1,18}){0,3}:[0-9a-f]{32}"


def add_to(app: typer.Typer) -> None:
    app.command()(backup)
    app.command()(restore)
    app.command("move-store")(move_store)
    app.command()(verify)


def backup(
    file: Annotated[
        Path | None, typer.Argument(help="The new file; else backup-DATE.db in the shop.")
    ] = None,
    shop: ShopOption = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Write the whole store into one new file, and check it.

    Others may go on measuring meanwhile.

    Example: dryfit backup /media/stick/shop.db
    """
    import datetime as dt

    from qa.store.copy import backup as write_backup

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
    """Fill the shop's empty store from a backup, and check it.

    Example: dryfit restore /media/stick/shop.db
    """
    from qa.store.copy import restore as fill

    with open_shop(shop) as (_, store):
        _tell(fill(file, store, _shown(quiet)), f"Restored from {file}", as_json, quiet)


def move_store(
    url: Annotated[
        str, typer.Argument(help="sqlite:///FILE, postgresql+psycopg://user@host/database, or env:NAME")
    ],
    shop: ShopOption = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Copy the store into another database, and use that one.

    It is copied row for row and checked, and shop.toml then names it. The old store stays as it is. Stop
    measuring meanwhile: what is read after the copy began is not in it. env:NAME takes the address from an
    environment variable, so that shop.toml holds no password.

    Example: dryfit move-store postgresql+psycopg://bench@localhost/shop
    """
    from qa.cli.common import SEEN_BY_ALL
    from qa.shop import FILE, write_store_url
    from qa.store.address import absolute_store, has_password
    from qa.store.copy import copy
    from qa.store.store import open_store

    with open_shop(shop) as (found, store), open_store(absolute_store(url, found.folder)) as target:
        copied = copy(store, target, _shown(quiet))
        write_store_url(found.folder, url)
        if has_password(url):
            typer.echo(f"dryfit: warning: {SEEN_BY_ALL}", err=True)
        _tell(copied, f"Moved, and {FILE} names the new store", as_json, quiet)


def verify(
    head: Annotated[
        str | None,
        typer.Option("--head", metavar="HEAD", help="A head printed or backed up earlier, to compare with."),
    ] = None,
    shop: ShopOption = None,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say whether every row is as it was stored, none missing.

    Every reading, event, build and plan is chained to the one before it. Exit status 0 where the record is
    whole, 1 where it is not. It finds damage, accidents and clumsy edits. Whoever can write the database can
    also chain it anew, and that shows only beside a head kept elsewhere: keep the one printed here, and name
    it with --head.

    Example: dryfit verify
    """
    from dataclasses import asdict

    from qa.errors import StoreError
    from qa.store.verify import verify as walk

    if head and not re.fullmatch(HEAD, head.strip()):
        raise StoreError(f"--head {head!r} is no head: write it as `dryfit verify` printed it")
    with open_shop(shop) as (_, store):
        found = walk(store, head, _shown(quiet or as_json, "walked"))
    if as_json:
        told = {"whole": found.whole, "rows": found.rows, "counts": found.counts, "head": found.head}
        faults = [asdict(fault) for fault in found.faults]
        print_json(told | {"fault_count": found.count, "faults": faults})
    elif found.whole and not quiet:
        counts = _counted(found.counts)
        typer.echo(f"Whole: {counts}, each as it was stored. Head of the record: {found.head}")
    elif not found.whole:
        for fault in found.faults:
            typer.echo(f"NOT WHOLE: {fault}")
        if found.count > len(found.faults):
            typer.echo(f"... and {found.count - len(found.faults)} more")
        typer.echo("Compare with a backup (dryfit verify there), and keep this store as it is until then.")
    if not found.whole:
        raise typer.Exit(1)


def _counted(rows: dict[str, int]) -> str:
    return ", ".join(f"{count} {table}" for table, count in rows.items())


def _shown(quiet: bool, done: str = "copied") -> Callable[[int], None]:
    def progress(rows: int) -> None:
        if not quiet and sys.stderr.isatty() and rows >= 50_000:
            typer.echo(f"\r{rows:,} rows {done}", err=True, nl=False)

    return progress


def _tell(copied: Copied, what: str, as_json: bool, quiet: bool) -> None:
    if as_json:
        print_json({"rows": copied.rows, "digest": copied.digest, "head": copied.head})
        return
    if quiet:
        return
    counts = _counted(copied.rows)
    typer.echo(f"{what}: {counts}; checked, digest {copied.digest[:16]}, head of the record {copied.head}.")
