"""Plans: what an instrument's parts should be, read from TOML with every problem named at once."""

from __future__ import annotations

import datetime as dt
import difflib
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from qa.characteristics import kinds
from qa.characteristics.base import MILLION, Characteristic, Station
from qa.characteristics.fields import EnteredLength, Fields, Notes
from qa.errors import PlanError, PlanProblem
from qa.toml_text import line_of, parse_toml

DIRECTIONS = ("radial", "tangential", "longitudinal")


@dataclass(frozen=True, slots=True)
class Reference:
    """The climate a plan's sizes hold at, and the climate it may be glued in (per cent, degrees Celsius)."""

    rh_percent: float = 45.0
    temp_c: float = 20.0
    glue_rh_percent: tuple[float, float] = (40.0, 50.0)


@dataclass(frozen=True, slots=True)
class Part:
    """One planned part. `grain` names the direction of the wood along each size.

    `jaw_give` is how far either way the jaws of a caliper may move a reading of this wood, in millimetres.
    """

    name: str
    title: str
    species: str
    grain: Mapping[str, str]
    characteristics: Mapping[str, Characteristic]
    jaw_give: float = 0.0

    def source(self, characteristic: Characteristic) -> Characteristic:
        """The characteristic whose readings are behind one: itself, or the size it is of."""
        return self.characteristics[characteristic.of] if characteristic.of else characteristic

    def stations(self, characteristic: Characteristic) -> tuple[Station, ...]:
        """Where the readings behind a characteristic are taken."""
        return self.source(characteristic).stations

    def to_read(self) -> Iterable[tuple[Characteristic, Station]]:
        """Every reading the part needs, in the order of the plan."""
        for characteristic in self.characteristics.values():
            if not characteristic.derived:
                for station in characteristic.stations:
                    yield characteristic, station


@dataclass(frozen=True, slots=True)
class Plan:
    """One revision of the plan of one model. It holds for builds begun on `since` or later.

    `digest` names the revision: the SHA-256 of the file's text.
    """

    name: str
    model: str
    unit: str
    since: dt.date | None
    reference: Reference
    parts: Mapping[str, Part]
    text: str = field(repr=False)
    digest: str
    lengths: tuple[EnteredLength, ...] = field(repr=False, default=())

    def part(self, name: str) -> Part:
        """The part by name; PlanError names the near ones."""
        if name in self.parts:
            return self.parts[name]
        raise PlanError([PlanProblem(self.name, None, "", unknown("part", name, self.parts))])


def unknown(what: str, name: str, known: Iterable[str]) -> str:
    """Words for a name that is not known, with the near ones or all of them."""
    names = list(known)
    near = difflib.get_close_matches(name, names, 3) or names
    if not near:
        return f"no {what} is called {name!r}: there are none yet"
    return f"no {what} is called {name!r}; known: {', '.join(near[:12])}{' ...' if len(near) > 12 else ''}"


def load_plan(path: Path) -> Plan:
    """A plan from a TOML file; PlanError lists every problem with its file, line and key."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise PlanError([PlanProblem(path.name, None, "", f"cannot be read: {error.strerror}")]) from error
    except UnicodeDecodeError as error:
        raise PlanError([PlanProblem(path.name, None, "", "is not UTF-8 text; save it as UTF-8")]) from error
    return read_plan(text, path.name)


def read_plan(text: str, file: str) -> Plan:
    """A plan from the text of a TOML file called `file`; PlanError lists every problem at once."""
    table = parse_toml(text, file)
    notes = Notes()
    unit = table.get("unit", "mm")
    if unit not in ("mm", "in"):
        notes.problems.append(("unit", f"must be 'mm' or 'in', not {unit!r}"))
        unit = "mm"
    fields = Fields(table, "", str(unit), notes)
    fields.get("unit")
    model = fields.text("model", needed=True)
    since = _since(fields)
    reference = _reference(fields)
    parts = _parts(fields)
    fields.unknown_keys()
    if notes.problems:
        raise PlanError([_placed(text, file, key.lstrip("."), why) for key, why in notes.problems])
    digest = hashlib.sha256(text.encode()).hexdigest()
    name = file.removesuffix(".toml")
    return Plan(name, model, str(unit), since, reference, parts, text, digest, tuple(notes.lengths))


def _since(fields: Fields) -> dt.date | None:
    value = fields.get("since")
    if value is None or (isinstance(value, dt.date) and not isinstance(value, dt.datetime)):
        return value
    fields.problem("since", f"must be a date such as 2025-10-01, not {value!r}")
    return None


def _table(fields: Fields, name: str, needed: bool = False) -> Mapping[str, object]:
    value = fields.get(name, needed)
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
    window = inner.get("glue_rh_percent")
    low, high = usual.glue_rh_percent
    if window is not None:
        if _is_window(window):
            low, high = (float(edge) for edge in window)  # type: ignore[attr-defined]
        else:
            inner.problem("glue_rh_percent", f"must be [low, high] within 0 to 100, not {window!r}")
    reference = Reference(
        inner.within("rh_percent", 0, 100, usual.rh_percent),
        inner.within("temp_c", -1.1, 60, usual.temp_c),
        (low, high),
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
    table = _table(fields, "parts", needed=True)
    if not table and "parts" in fields.table:
        fields.problem("parts", "has no part; add [parts.NAME]")
    inner = _inner(fields, "parts", table)
    return {name: _part(_inner(inner, name, _table(inner, name))) for name in table}


def _part(fields: Fields) -> Part:
    grain = _grain(fields)
    table = _table(fields, "characteristics", needed=True)
    inner = _inner(fields, "characteristics", table)
    found = {name: _characteristic(_inner(inner, name, _table(inner, name))) for name in table}
    characteristics = {name: item for name, item in found.items() if item is not None}
    for item in characteristics.values():
        _check_source(inner, item, found)
    part = Part(
        fields.name,
        fields.text("title", default=fields.name.replace("-", " ")),
        fields.text("species"),
        grain,
        characteristics,
        _jaw_give(fields),
    )
    fields.unknown_keys()
    return part


def _jaw_give(fields: Fields) -> float:
    give = fields.length("jaw_give") or 0
    if 0 <= give <= MILLION // 2:
        return give / MILLION
    fields.problem("jaw_give", "must be a length from 0 to 0.5 mm, how far the jaws may move a reading")
    return 0.0


def _grain(fields: Fields) -> dict[str, str]:
    table = _table(fields, "grain")
    for size, direction in table.items():
        if direction not in DIRECTIONS:
            fields.problem(f"grain.{size}", f"must be one of {', '.join(DIRECTIONS)}, not {direction!r}")
    return {size: str(direction) for size, direction in table.items()}


def _characteristic(fields: Fields) -> Characteristic | None:
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
