"""Reads from a plan how much larger than finished the blank of a part is cut."""

from __future__ import annotations

from collections.abc import Mapping

from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic
from qa.characteristics.fields import Fields
from qa.plans.planned import DIRECTIONS, BlankSize

MOST_CUTS = 100


def read_blanks(
    fields: Fields, species: str, grain: Mapping[str, str], sizes: Mapping[str, Characteristic]
) -> tuple[BlankSize, ...]:
    """The blank sizes of a part, from one inner table of `blank` per size; problems go to the notes."""
    value = fields.get("blank", sort="names")
    if value is None:
        return ()
    tables = value if isinstance(value, Mapping) else {}
    if not tables:
        fields.problem("blank", "must hold one table per size, such as [parts.NAME.blank.height]")
    found = []
    for name, table in tables.items():
        if not isinstance(table, Mapping):
            fields.problem(f"blank.{name}", "must be a table, such as { trimming = 2 }")
            continue
        inner = Fields(table, f"{fields.key}.blank.{name}", fields.unit, fields.notes)
        item = _size(inner, sizes.get(name), _needs_grain(name, species, grain, sizes.get(name)))
        inner.unknown_keys()
        found += [item] if item else []
    return tuple(found)


def _needs_grain(
    name: str, species: str, grain: Mapping[str, str], item: Characteristic | None
) -> tuple[str, str]:
    """The direction of the wood along a size, and what is missing to tell it."""
    kind = item.kind.removeprefix("area-") if item else name
    way = grain.get(name) or grain.get(kind, "")
    if way not in DIRECTIONS:
        return "", f'needs the direction of the wood: grain = {{ {name} = "radial" }} in the part\'s table'
    return way, "" if species else "needs the species of the part"


def _size(fields: Fields, item: Characteristic | None, wood: tuple[str, str]) -> BlankSize | None:
    finished = _finished(fields, item)
    dome_radius, dome_from = _dome(fields)
    amounts = {name: _allowance(fields, name) for name in ("wedge", "trimming", "kerf")}
    cuts = fields.number("cuts", 1.0)
    if cuts is None or cuts != int(cuts) or not 1 <= cuts <= MOST_CUTS:
        fields.problem("cuts", f"must be a whole number from 1 to {MOST_CUTS}, not {cuts}")
        cuts = 1.0
    rh = tuple(_humidity(fields, name) for name in ("moves_from_rh", "moves_to_rh"))
    if rh[0] is None and rh[1] is not None:
        fields.problem("moves_from_rh", "is missing beside moves_to_rh: the humidity the blank is cut at")
    if rh[0] is not None and wood[1]:
        fields.problem("moves_from_rh", wood[1])
    if finished is None:
        return None
    return BlankSize(
        fields.name, finished, dome_radius, dome_from, **amounts, cuts=int(cuts), grain=wood[0],
        moves_from_rh=rh[0], moves_to_rh=rh[1],
    )  # fmt: skip


def _finished(fields: Fields, item: Characteristic | None) -> int | None:
    given = fields.length("finished", positive=True)
    if "finished" in fields.table:
        return given
    if item is not None and kinds()[item.kind].sized and item.target:
        return item.target
    fields.problem("finished", f"is missing, and {fields.name!r} is no size of this part with a target")
    return None


def _dome(fields: Fields) -> tuple[float | None, tuple[float, float] | None]:
    """Radius of the dome, and between which distances from its middle the part lies, in millimetres."""
    radius = fields.length("dome_radius", positive=True)
    chord = fields.length("dome_chord", positive=True)
    span = _span(fields)
    given = [name for name in ("dome_from", "dome_chord") if name in fields.table]
    if "dome_radius" not in fields.table:
        for name in given:
            fields.problem(name, "needs dome_radius beside it")
        return None, None
    if len(given) != 1:
        why = "needs dome_from, the nearest and farthest distance of the part from the dome's middle, or "
        fields.problem("dome_radius", why + "dome_chord, its length across the middle; one of the two")
        return None, None
    if chord is not None:
        span = 0.0, chord / 2 / MILLION
    if radius is None or span is None:
        return None, None
    if span[1] > radius / MILLION:
        fields.problem(given[0], f"reaches beyond a dome of radius {radius / MILLION:g} mm")
        return None, None
    return radius / MILLION, span


def _span(fields: Fields) -> tuple[float, float] | None:
    value = fields.get("dome_from", sort="pair")
    if value is None:
        return None
    if not isinstance(value, list) or len(value) != 2:
        fields.problem(
            "dome_from", f"must be [nearest, farthest] distance from the dome's middle, not {value!r}"
        )
        return None
    near, far = (fields.amount("dome_from", item) for item in value)
    if near is None or far is None:
        return None
    if not 0 <= near < far:
        fields.problem("dome_from", "must be the nearest, from 0 up, then the farthest distance")
        return None
    return near / MILLION, far / MILLION


def _allowance(fields: Fields, name: str) -> int:
    found = fields.length(name) or 0
    if found < 0:
        fields.problem(name, "is below zero; an allowance only adds wood")
    return found


def _humidity(fields: Fields, name: str) -> float | None:
    return None if name not in fields.table else fields.within(name, 0, 100, 50.0)
