"""Draws the face of a part to scale as SVG text: stations, names, verdicts, dimension lines. No I/O.

Everything is drawn in `currentColor` with a class, so that a page's theme or a printer's grey applies:
svg.face, .edge (outline), .dimension, .pencil (lettering), .station, .next (ring of the next station) and
.verdict with one of conforms, does-not-conform, undecided, not-measured.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape

from drivers.lengths import format_length
from qa.characteristics.base import MILLION
from qa.conformity import Verdict
from qa.judge import WORST_FIRST, JudgedPart
from qa.paper.drawing_labels import LETTERING, MARK, RING, Box, Label, label_size, text_width
from qa.paper.drawing_layout import Layout, Spot, layout, once, spots
from qa.plans.planned import Part

__all__ = ["Spot", "face_svg", "once", "shape", "spots", "verdicts_by_place"]

Verdicts = Mapping[str, Verdict]
WIDTH, HEIGHT = 480.0, 360.0
ROW, SMALL_RING = 1.6 * LETTERING, 10.0


def face_svg(
    part: Part,
    unit: str = "mm",
    *,
    characteristic: str | None = None,
    highlight: str | None = None,
    verdicts: Verdicts | None = None,
    width: float = WIDTH,
    height: float = HEIGHT,
) -> str:
    """The face of a part as one <svg> element, to scale, y upwards; lengths written in `unit` ("mm", "in").

    `characteristic` draws only where that one is read. `highlight` is the next station and the keys of
    `verdicts` are stations: "characteristic/station", or the station alone. Without verdicts the places are
    blank marks; with them, a place without one is not measured. Where the names do not fit, places carry the
    numbers of `spots`. KeyError where the part has no such characteristic.
    """
    found = spots(part, characteristic)
    extra = once(part, characteristic)
    if not found:
        found, extra = _in_a_row([item.name for item in extra]), ()
    marked = frozenset(i for i, spot in enumerate(found) if highlight is not None and _is(spot, highlight))
    laid = layout(found, marked, width, height - (ROW if extra else 0.0))
    told = [None if verdicts is None else _verdict(spot, verdicts) for spot in found]
    described = "; ".join(_describe(spot, verdict) for spot, verdict in zip(found, told, strict=True))
    body = [f"<title>{escape(part.title)}</title><desc>{escape(described)}</desc>", _edge(laid.outline)]
    body += _dimensions(laid, unit) if found[0].readings[0][1] else ()
    for index, spot in enumerate(found):
        body.append(_station(spot, laid.points[index], laid.labels[index], index in marked, told[index]))
    row, used = _read_once([item.name for item in extra], verdicts, highlight, laid.used)
    return f"{_head(used)}{''.join(body + row)}</svg>"


def _in_a_row(names: Sequence[str]) -> tuple[Spot, ...]:
    """Places for what is read at no named station, one above the other, the first on top."""
    return tuple(Spot(i, name, ((name, ""),), 0.0, float(-i)) for i, name in enumerate(names, 1))


def _head(used: Box) -> str:
    wide, high = used.right - used.left, used.bottom - used.top
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="face" role="img"'
        f' viewBox="{used.left:.1f} {used.top:.1f} {wide:.1f} {high:.1f}" width="{wide:.0f}"'
        f' height="{high:.0f}" fill="none" stroke="currentColor" font-size="{LETTERING:g}">'
    )


def verdicts_by_place(judged: JudgedPart) -> dict[str, Verdict]:
    """The verdicts on a part as `face_svg` wants them: by "characteristic/station", or "characteristic/"."""
    return {f"{item.characteristic}/{item.station or ''}": item.verdict for item in judged.characteristics}


def _is(spot: Spot, name: str) -> bool:
    return any(name in (station, f"{item}/{station}") for item, station in spot.readings if station or item)


def _verdict(spot: Spot, verdicts: Verdicts) -> Verdict:
    """The worst verdict on what is read at a place."""
    found = {
        verdicts.get(f"{item}/{station}", verdicts.get(station, Verdict.NOT_MEASURED))
        for item, station in spot.readings
    }
    return next(verdict for verdict in WORST_FIRST if verdict in found)


def _describe(spot: Spot, verdict: Verdict | None) -> str:
    names = ", ".join(" ".join(word for word in reading if word) for reading in spot.readings)
    return f"{spot.number} {names}{'' if verdict is None else f': {verdict}'}"


def _edge(box: Box) -> str:
    size = f'width="{box.right - box.left:.1f}" height="{box.bottom - box.top:.1f}"'
    return f'<rect class="edge" x="{box.left:.1f}" y="{box.top:.1f}" {size} stroke-width="1.2"/>'


def _station(
    spot: Spot, point: tuple[float, float], label: Label, marked: bool, verdict: Verdict | None
) -> str:
    x, y = point
    ring = f'<circle class="next" cx="{x:.1f}" cy="{y:.1f}" r="{RING:g}" stroke-width="2.5"/>'
    weight = ' font-weight="bold"' if label.large else ""
    text = (
        f'<text class="pencil" x="{label.x:.1f}" y="{label.y:.1f}" text-anchor="{label.anchor}"'
        f' font-size="{label_size(label.large):g}"{weight} font-style="italic" fill="currentColor"'
        f' stroke="none">{escape(label.text)}</text>'
    )
    title = f"<title>{escape(_describe(spot, verdict))}{', the next to read' if marked else ''}</title>"
    return f'<g class="station">{title}{ring if marked else ""}{shape(verdict, x, y)}{text}</g>'


def shape(verdict: Verdict | None, x: float, y: float, size: float = MARK) -> str:
    """The mark of a verdict about (x, y), reaching `size` each way: told by its shape, not by its colour."""
    kind = "verdict " + str(verdict or "blank").replace(" ", "-")
    if verdict is None:
        return f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{size * 0.4:.1f}" fill="currentColor"/>'
    if verdict == Verdict.CONFORMS:
        return f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{size:.1f}" fill="currentColor"/>'
    low, high, left, right = y + size, y - size, x - size, x + size
    if verdict == Verdict.DOES_NOT_CONFORM:
        d = f"M{left:.1f} {high:.1f} {right:.1f} {low:.1f}M{right:.1f} {high:.1f} {left:.1f} {low:.1f}"
        return f'<path class="{kind}" d="{d}" stroke-width="{size * 0.55:.1f}" stroke-linecap="round"/>'
    if verdict == Verdict.UNDECIDED:
        d = f"M{x:.1f} {high:.1f} {right:.1f} {low:.1f} {left:.1f} {low:.1f}Z"
        return f'<path class="{kind}" d="{d}" fill="currentColor" stroke-linejoin="round"/>'
    return f'<path class="{kind}" d="M{left:.1f} {y:.1f}H{right:.1f}" stroke-width="{size * 0.4:.1f}"/>'


def _dimensions(laid: Layout, unit: str) -> Iterator[str]:
    """The distances between the outermost stations, below the face and at its left."""
    box = laid.outline
    if laid.span[0] > 0:
        y = laid.dimension_y
        yield _dimension_line(box.left, y, box.right, y)
        yield _amount((box.left + box.right) / 2, y - 4, _shown(laid.span[0], unit))
    if laid.span[1] > 0:
        x = laid.dimension_x
        yield _dimension_line(x, box.top, x, box.bottom)
        y = (box.top + box.bottom) / 2
        yield _amount(x - 4, y, _shown(laid.span[1], unit), f' transform="rotate(-90 {x - 4:.1f} {y:.1f})"')


def _dimension_line(x1: float, y1: float, x2: float, y2: float) -> str:
    """A line with an oblique stroke at either end."""
    strokes = "".join(f"M{x - 4:.1f} {y + 4:.1f}l8 -8" for x, y in ((x1, y1), (x2, y2)))
    return (
        f'<path class="dimension" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}{strokes}" stroke-width="0.8"'
        ' stroke-opacity="0.75"/>'
    )


def _amount(x: float, y: float, text: str, turned: str = "") -> str:
    return (
        f'<text class="dimension" x="{x:.1f}" y="{y:.1f}" text-anchor="middle"'
        f' font-size="{LETTERING * 0.9:g}" fill="currentColor" stroke="none"{turned}>{text}</text>'
    )


def _shown(mm: float, unit: str) -> str:
    number, word = format_length(round(mm * MILLION), unit, 2 if unit == "mm" else 3).split()
    return f"{number.rstrip('0').rstrip('.')} {word}"


def _read_once(
    names: Sequence[str], verdicts: Verdicts | None, highlight: str | None, used: Box
) -> tuple[list[str], Box]:
    """What has no place on the face, in rows beneath it, and the drawing's new bounds."""
    left = used.left + SMALL_RING
    drawn, x, y, right = [], left, used.bottom + ROW / 2, used.right
    for name in names:
        verdict = None if verdicts is None else verdicts.get(f"{name}/", Verdict.NOT_MEASURED)
        wide = 3 * MARK + text_width(name, LETTERING) + LETTERING
        if x + wide > used.left + WIDTH and x > left:
            x, y = left, y + ROW
        drawn.append(_once(name, verdict, highlight in (name, f"{name}/"), x, y))
        x, right = x + wide, max(right, x + wide)
    bottom = y + SMALL_RING if names else used.bottom
    return drawn, Box(used.left, used.top, right, bottom)


def _once(name: str, verdict: Verdict | None, marked: bool, x: float, y: float) -> str:
    told = escape(name if verdict is None else f"{name}: {verdict}")
    ring = f'<circle class="next" cx="{x:.1f}" cy="{y:.1f}" r="{SMALL_RING - 1.5:g}" stroke-width="2.5"/>'
    bold = ' font-weight="bold"' if marked else ""
    return (
        f'<g class="station"><title>{told}{", the next to read" if marked else ""}</title>'
        f"{ring if marked else ''}{shape(verdict, x, y)}"
        f'<text class="pencil" x="{x + SMALL_RING + 3:.1f}" y="{y + 4:.1f}" font-style="italic"{bold}'
        f' fill="currentColor" stroke="none">{escape(name)}</text></g>'
    )
