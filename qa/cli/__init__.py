"""The `dryfit` command: reads its arguments, calls qa, prints. Every error is one line, exit status 2."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from io import TextIOWrapper
from pathlib import Path
from typing import Any

import typer

from drivers.errors import DriverError
from qa.cli.app import app
from qa.cli.common import SHOWN_PROBLEMS
from qa.errors import LogError, PlanError, QaError

# Typer keeps the base of its usage errors in a private module; its public subclass leads to it.
_USAGE: Any = next(kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "ClickException")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command; leave with 0 done, 1 judged and not fit, 2 bad input or use."""
    _be_at_ease()
    sys.exit(run(arguments))


def _be_at_ease() -> None:
    """Make do with the terminal there is: none at all, or one whose character set lacks a mark."""
    if sys.stdin is None:
        sys.stdin = Path(os.devnull).open(encoding="utf-8")  # noqa: SIM115 - until the program ends
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command and give its exit status."""
    try:
        status = app(arguments, prog_name="dryfit", standalone_mode=False)
    except (PlanError, LogError) as error:
        return _refuse(_listed([str(problem) for problem in error.problems]))
    except (QaError, DriverError) as error:
        return _refuse(str(error))
    except _USAGE as error:
        if type(error).__name__ == "NoArgsIsHelpError":
            typer.echo(error.format_message())
            return 2
        return _refuse(f"{error.format_message().rstrip('.')}; see dryfit --help")
    except typer.Abort:
        return 130
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output has gone: nothing is left to say to it
        return 0
    except MemoryError:
        return _refuse("there is not enough memory for this; close other programs or take less at once")
    except OSError as error:
        return _refuse(f"{error.filename or 'the disk'}: {error.strerror}")
    return status if isinstance(status, int) else 0


def _listed(problems: Sequence[str]) -> str:
    lines = list(problems[:SHOWN_PROBLEMS])
    if len(problems) > SHOWN_PROBLEMS:
        lines.append(f"... and {len(problems) - SHOWN_PROBLEMS} more")
    return "\n".join(lines)


def _refuse(why: str) -> int:
    for line in why.splitlines():
        sys.stderr.write(f"dryfit: {line}\n")
    return 2
