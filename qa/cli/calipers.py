"""`dryfit caliper`: trust in instruments."""

from __future__ import annotations

import typer

from qa.cli.caliper_checks import check
from qa.cli.caliper_listening import listen, ports
from qa.cli.caliper_records import climate, study
from qa.cli.caliper_standing import status

caliper = typer.Typer(
    name="caliper",
    help="Check calipers and meters, study them, hear what they send.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

for command in (check, study, status, listen, ports, climate):
    caliper.command()(command)


def add_to(app: typer.Typer) -> None:
    app.add_typer(caliper)
