"""Reads plans from TOML, with every problem named at once."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic
from qa.characteristics.fields import Asked, Fields, Notes
from qa.errors import PlanError, PlanProblem
from qa.plans.blank_reading import read_blanks
from qa.plans.planned import DIRECTIONS, Mate, Part, Plan, Reference, unknown
from qa.plans.toml_text import line_of, parse_toml, read_toml_text

__all__ = [
    "DIRECTIONS",
    "Mate",
    "Part",
    "Plan",
    "Reference",
    "Survey",
    "load_plan",
    "read_plan",
    "survey",
    "unknown",
]


def load_plan(path: Path) -> Plan:
    """A plan from a TOML file; PlanError lists every problem with its file, line and key."""
    return read_plan(read_toml_text(path, path.name), path.name)


@dataclass(frozen=True, slots=True)
class Survey:
    """What reading a plan's text brings up: the plan as far as it could be read, and every problem.

    `asked` holds every key that the plan holds or could hold, in the order in which reading asks for them.
    """

    plan: Plan
    problems: tuple[PlanProblem, ...]
    asked: Mapping[str, Asked]


def read_plan(text: str, file: str) -> Plan:
    """A plan from the text of a TOML file called `file`; PlanError lists every problem at once."""
    found = survey(text, file)
    if found.problems:
        raise PlanError(found.problems)
    return found.plan


def survey(text: str, file: str) -> Survey:
    """Reads a plan's text through, whatever is wrong with it; PlanError only where it is not TOML."""
    table = parse_toml(text, file)
    notes = Notes()
    unit = table.get("unit", "mm")
    if unit not in ("mm", "in"):
        notes.problems.append(("unit", f"must be 'mm' or 'in', not {unit!r}"))
        unit = "mm"
    fields = Fields(table, "", str(unit), notes)
    fields.ask("unit", "choice", among=("mm", "in"), usual="mm")
    fields.get("unit")
    model = fields.text("model", needed=True)
    since = _since(fields)
    reference = _reference(fields)
    parts = _parts(fields)
    fields.unknown_keys()
    problems = tuple(_placed(text, file, key.lstrip("."), why) for key, why in notes.problems)
    digest = hashlib.sha256(text.encode()).hexdigest()
    name = file.removesuffix(".toml")
    plan = Plan(name, model, str(unit), since, reference, parts, text, digest, tuple(notes.lengths))
    return Survey(plan, problems, notes.asked)


def _since(fields: Fields) -> dt.date | None:
    value = fields.get("since", sort="date")
    if value is None or (isinstance(value, dt.date) and not isinstance(value, dt.datetime)):
        return value
    fields.problem("since", f"must be a date such as 2025-10-01, not {value!r}")
    return None


def _table(fields: Fields, name: str, needed: bool = False, sort: str = "table") -> Mapping[str, object]:
    value = fields.get(name, needed, sort)
    if value is None:
        return {}
    if not isinstance(value, Mapping):
        fields.problem(name, "must be a table")
        return {}
    return value


def _inner(fields: Fields, name: str, table: Mapping[str, object]) -> Fields:
    return Fields(table, f"{fields.key}.{name}".lstrip("."), fields.unit, fields.notes)


def _reference(fields: Fields) -> Reference:
    inner = _inner(fields, "reference", _table(fields, "reference"))
    usual = Reference()
    window = inner.get("glue_rh_percent", sort="pair")
    low, high = usual.glue_rh_percent
    if window is not None:
        if _is_window(window):
            low, high = (float(edge) for edge in window)  # type: ignore[attr-defined]  # two numbers: looked at
        else:
            inner.problem("glue_rh_percent", f"must be [low, high] within 0 to 100, not {window!r}")
    reference = Reference(
        inner.within("rh_percent", 0, 100, usual.rh_percent),
        inner.within("temp_c", -1.1, 60, usual.temp_c),
        (low, high),
        inner.within("reading_life_hours", 0, 10_000, usual.reading_life_hours),
    )
    inner.unknown_keys()
    return reference


def _is_window(window: object) -> bool:
    if not isinstance(window, list) or len(window) != 2:
        return False
    if not all(isinstance(edge, int | float) and not isinstance(edge, bool) for edge in window):
        return False
    return bool(0 < window[0] < window[1] < 100)


def _parts(fields: Fields) -> dict[str, Part]:
    table = _table(fields, "parts", needed=True, sort="names")
    if not table and "parts" in fields.table:
        fields.problem("parts", "has no part; add [parts.NAME]")
    inner = _inner(fields, "parts", table)
    parts = {name: _part(_inner(inner, name, _table(inner, name))) for name in table}
    for part in parts.values():
        _check_mates(_inner(inner, part.name, {}), part, parts)
    return parts


def _part(fields: Fields) -> Part:
    grain = _grain(fields)
    table = _table(fields, "characteristics", needed=True, sort="names")
    inner = _inner(fields, "characteristics", table)
    found = {name: _characteristic(_inner(inner, name, _table(inner, name))) for name in table}
    characteristics = {name: item for name, item in found.items() if item is not None}
    for item in characteristics.values():
        _check_source(inner, item, found)
    species = fields.text("species")
    part = Part(
        fields.name,
        fields.text("title", default=fields.name.replace("-", " ")),
        species,
        grain,
        characteristics,
        _jaw_give(fields),
        _mates(fields),
        read_blanks(fields, species, grain, characteristics),
    )
    fields.unknown_keys()
    return part


def _mates(fields: Fields) -> tuple[Mate, ...]:
    table = _table(fields, "mates", sort="names")
    inner = _inner(fields, "mates", table)
    found = (_mate(_inner(inner, name, _table(inner, name))) for name in table)
    return tuple(mate for mate in found if mate is not None)


def _mate(fields: Fields) -> Mate | None:
    size, other = fields.text("size", needed=True), fields.text("mate", needed=True)
    lower, upper = fields.length("gap_lower", needed=True), fields.length("gap_upper", needed=True)
    fields.unknown_keys()
    part, dot, size_of = other.partition(".")
    if other and not (dot and part and size_of):
        fields.problem("mate", f"must name a part and its size, such as 'mould.width', not {other!r}")
        return None
    if not size or not other or lower is None or upper is None:
        return None
    if lower >= upper:
        fields.problem("gap_lower", "is not below gap_upper: no gap lies between them")
        return None
    return Mate(fields.name, size, part, size_of, lower, upper)


def _check_mates(fields: Fields, part: Part, parts: Mapping[str, Part]) -> None:
    """Both sides of every mate are sizes of this plan."""
    for mate in part.mates:
        if mate.part not in parts:
            fields.problem(f"mates.{mate.name}.mate", unknown("part", mate.part, parts))
            continue
        for key, owner, size in (("size", part, mate.size), ("mate", parts[mate.part], mate.size_of)):
            sizes = [name for name, item in owner.characteristics.items() if kinds()[item.kind].sized]
            if size not in sizes:
                fields.problem(f"mates.{mate.name}.{key}", unknown(f"size of {owner.name}", size, sizes))


def _jaw_give(fields: Fields) -> float:
    give = fields.length("jaw_give") or 0
    if 0 <= give <= MILLION // 2:
        return give / MILLION
    fields.problem("jaw_give", "must be a length from 0 to 0.5 mm, how far the jaws may move a reading")
    return 0.0


def _grain(fields: Fields) -> dict[str, str]:
    table = _table(fields, "grain", sort="names")
    for size, direction in table.items():
        fields.ask(f"grain.{size}", "choice", among=DIRECTIONS)
        if direction not in DIRECTIONS:
            fields.problem(f"grain.{size}", f"must be one of {', '.join(DIRECTIONS)}, not {direction!r}")
    return {size: str(direction) for size, direction in table.items()}


def _characteristic(fields: Fields) -> Characteristic | None:
    fields.ask("kind", "choice", needed=True, among=kinds())
    kind = fields.text("kind", needed=True)
    if not kind:
        return None
    if kind not in kinds():
        fields.problem("kind", unknown("kind of characteristic", kind, kinds()))
        return None
    characteristic = kinds()[kind].read(fields)
    fields.unknown_keys()
    return characteristic


def _check_source(fields: Fields, item: Characteristic, found: Mapping[str, Characteristic | None]) -> None:
    if item.of is None:
        return
    if item.of not in found:
        fields.problem(f"{item.name}.of", unknown("characteristic of this part", item.of, found))
        return
    source = found[item.of]
    if source is None:
        return
    if not kinds()[source.kind].sized:
        fields.problem(f"{item.name}.of", f"must name a size; {item.of!r} is a {source.kind}")
        return
    why = kinds()[item.kind].needs(source.stations)
    if why:
        fields.problem(f"{item.name}.of", f"{item.kind} of {item.of!r} cannot be told: {why}")


def _placed(text: str, file: str, key: str, why: str) -> PlanProblem:
    return PlanProblem(file, line_of(text, key), key, why)
