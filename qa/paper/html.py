"""Tickets and build records as one HTML page each, whole in itself: nothing in it is fetched."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Mapping, Sequence
from importlib import resources
from typing import TYPE_CHECKING

from qa.conformity import Verdict
from qa.errors import QaError
from qa.gate.words import say_clamped
from qa.judge import WORST_FIRST
from qa.paper.build_record import Record, strip_svg
from qa.paper.drawing import face_svg, shape
from qa.paper.tickets import Ticket, held_to

if TYPE_CHECKING:
    from markupsafe import Markup

    from qa.plans.planned import Part, Plan

SIZES = {"a5": "A5 portrait", "half-letter": "5.5in 8.5in", "a4": "A4 portrait", "letter": "Letter portrait"}
"""Paper by the name a person types, as CSS calls it. Half-letter is 5.5 by 8.5 inches."""

SHOWN_REASONS = 12


def ticket_page(tickets: Sequence[Ticket], size: str = "a5", zone: dt.tzinfo = dt.UTC) -> str:
    """A page or more for each ticket; times are told in `zone`. QaError where a link is too long for a QR."""
    return _page("ticket.html", size, zone, {"tickets": tickets, "most": SHOWN_REASONS})


def record_page(record: Record, size: str = "a4", zone: dt.tzinfo = dt.UTC) -> str:
    """A build's record for its owner; times are told in `zone`."""
    return _page("record.html", size, zone, {"record": record, "strip": strip_svg})


def faces_page(plans: Sequence[Plan], unit: str, size: str = "a4") -> str:
    """The face of every part of some plans, to scale, with what each characteristic is held to."""
    drawn = [
        (plan, [(part, face_svg(part, unit), _held(part, unit)) for part in plan.parts.values()])
        for plan in plans
    ]
    return _page("faces.html", size, dt.UTC, {"plans": drawn})


def _held(part: Part, unit: str) -> list[tuple[str, str]]:
    return [(item.name, held_to(item, item.limits(None), unit)) for item in part.characteristics.values()]


def _page(template: str, size: str, zone: dt.tzinfo, values: Mapping[str, object]) -> str:
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    if size not in SIZES:
        raise QaError(f"no paper is called {size!r}; known: {', '.join(SIZES)}")
    files = resources.files("qa.paper") / "ticket_files"
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    environment.globals.update(
        key=_key, qr=_qr, moment=lambda at: _moment(at, zone), say_clamped=say_clamped,
        verdicts=list(reversed(WORST_FIRST)), size=SIZES[size],
        style=Markup((files / "ticket.css").read_text(encoding="utf-8")),  # noqa: S704 - our own file
    )  # fmt: skip
    page = environment.from_string((files / template).read_text(encoding="utf-8")).render(values)
    return "\n".join(line for line in page.splitlines() if line.strip()) + "\n"


def _moment(at: dt.datetime | str, zone: dt.tzinfo) -> str:
    moment = dt.datetime.fromisoformat(at) if isinstance(at, str) else at
    return f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"


def _key(verdict: Verdict) -> Markup:
    """The shape of a verdict, in a line of text."""
    from markupsafe import Markup

    drawn = shape(verdict, 8, 8, 6)
    return Markup(  # noqa: S704 - drawn by us from the verdict alone
        f'<svg class="key" viewBox="0 0 16 16" role="img" aria-label="{verdict}" fill="none"'
        f' stroke="currentColor">{drawn}</svg>'
    )


def _qr(link: str) -> Markup:
    """A link as a QR code (ISO/IEC 18004), restored where up to 15 % of it is smudged."""
    import segno
    from markupsafe import Markup

    try:
        code = segno.make_qr(link, error="m")
    except segno.DataOverflowError as error:
        raise QaError(f"the names are too long for a QR code: {link[:60]}...") from error
    drawn = io.BytesIO()
    code.save(drawn, kind="svg", xmldecl=False, svgns=True, nl=False, omitsize=True, border=2, dark="#000")
    return Markup(drawn.getvalue().decode())  # noqa: S704 - drawn by segno from our own link
