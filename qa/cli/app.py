"""The commands of `dryfit`, one module a group; each imports what it needs only when it runs."""

from __future__ import annotations

import os
from typing import Annotated

import typer

from qa.cli import (
    calipers,
    doctoring,
    drift,
    exporting,
    gluing,
    keeping,
    logs,
    measuring,
    paper,
    plans,
    serving,
    starting,
    verdicts,
    wood,
)
from qa.cli.common import ShopOption

app = typer.Typer(
    name="dryfit",
    help="Bench record and gatekeeper of a small workshop that builds acoustic stringed instruments.\n\n"
    "To look round: dryfit demo. To begin a shop of your own: dryfit new my-shop",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"dryfit {version('dryfit')}")
        raise typer.Exit


@app.callback()
def root(
    shop: ShopOption = None,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which version this is.")
    ] = False,
) -> None:
    """Bench record and gatekeeper of a small workshop that builds acoustic stringed instruments."""
    if shop:
        os.environ["DRYFIT_SHOP"] = shop


for group in (
    starting, plans, measuring, logs, verdicts, gluing, drift, calipers, wood, keeping, paper, exporting,
    serving, doctoring,
):  # fmt: skip
    group.add_to(app)
