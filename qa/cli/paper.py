"""`dryfit ticket`: paper for the bench and for the instrument's owner."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import JsonOption, ModelOption, ShopOption, open_shop, print_json

if TYPE_CHECKING:
    from qa.shop import Shop
    from qa.store.store import Store


class Paper(StrEnum):
    """What a sheet of paper is called."""

    A5 = "a5"
    HALF_LETTER = "half-letter"
    A4 = "a4"
    LETTER = "letter"


def add_to(app: typer.Typer) -> None:
    app.command()(ticket)


def ticket(
    build: Annotated[str, typer.Argument(help="The build; one not begun yet gets blank tickets.")],
    part: Annotated[str | None, typer.Argument(help="A part; all without it.")] = None,
    record: Annotated[
        bool, typer.Option("--record", help="The record of the whole build, for its owner.")
    ] = False,
    blank: Annotated[
        bool, typer.Option("--blank", help="Empty boxes, even where readings were taken.")
    ] = False,
    pdf: Annotated[bool, typer.Option("--pdf/--html", help="PDF beside the HTML page.")] = False,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Where to write it.")] = Path(),
    size: Annotated[
        Paper | None, typer.Option("--size", help="Of the paper; A5 without it, A4 for a record.")
    ] = None,
    address: Annotated[
        str, typer.Option("--address", metavar="URL", help="Where the dashboard is, for the QR code.")
    ] = "http://127.0.0.1:8050",
    model: ModelOption = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write the ticket of a part, to print.

    It has the drawing, stations and limits, and boxes that are filled once the part was measured. The QR code
    opens the part on the Bench page; for a phone give the --address it can reach. A page is one HTML file
    that any browser prints; --pdf writes PDF too.

    Example: dryfit ticket OM-16 tail-block --pdf
    """
    from qa.errors import QaError
    from qa.paper.pdf import write_pdf

    if record and part:
        raise QaError("a record is of the whole build: leave the part out, or leave --record out")
    if record and blank:
        raise QaError("--blank is for tickets: a record holds what was read; leave one of the two out")
    if record and model:
        raise QaError("--model is for tickets of a build not begun: leave it out of a record")
    with open_shop(shop) as (found, store):
        if record:
            page = _record(found, store, build, size or Paper.A4)
        else:
            page = _tickets(found, store, build, part, model, blank, size or Paper.A5, address)
    out.mkdir(parents=True, exist_ok=True)
    written = [out / f"{file_name(build, part, record)}.html"]
    written[0].write_text(page, encoding="utf-8")
    if pdf:
        written.append(written[0].with_suffix(".pdf"))
        write_pdf(page, written[1])
    if as_json:
        print_json({"files": [str(path) for path in written]})
        return
    typer.echo(f"Wrote {' and '.join(str(path) for path in written)}.")


def _record(shop: Shop, store: Store, build: str, size: str) -> str:
    from qa.paper.build_record import record_of
    from qa.paper.html import record_page

    return record_page(record_of(shop, store, build), size, shop.zone())


def _tickets(
    shop: Shop,
    store: Store,
    build: str,
    part: str | None,
    model: str | None,
    blank: bool,
    size: str,
    address: str,
) -> str:
    from qa.paper.html import ticket_page
    from qa.paper.tickets import tickets_of

    tickets = tickets_of(shop, store, build, part, model=model, blank=blank, address=address)
    return ticket_page(tickets, size, shop.zone())


def file_name(build: str, part: str | None, record: bool) -> str:
    """A file's name from any names: letters and digits of any script, and a digest where signs were lost.

    The dot before the part is kept of no name, so that it tells where the build's ends.
    """
    import hashlib

    names = [f"{'record' if record else 'ticket'}-{build}", *([part] if part else [])]
    plain = ("".join(sign if sign.isalnum() or sign in "-_ " else "_" for sign in name) for name in names)
    kept = ".".join(plain)[:80].strip()
    lost = "" if kept == ".".join(names) else f"-{hashlib.sha256(repr(names).encode()).hexdigest()[:8]}"
    return f"{kept}{lost}"
