"""A shop folder: shop.toml, the plans beside it, and the address of its store."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from qa.characteristics.fields import Fields, Notes
from qa.errors import PlanError, PlanProblem, ShopError, WhichModel
from qa.instruments import TYPED, UNITS, USUAL, Instrument
from qa.plans.plan import Plan, load_plan, unknown
from qa.plans.toml_text import line_of, parse_toml
from qa.store.address import absolute_store, has_password
from qa.whole import write_whole
from qa.wood import Species, load_species

FILE = "shop.toml"
SPECIES_FILE = "species.toml"


@dataclass(frozen=True, slots=True)
class Shop:
    """A shop as its folder describes it.

    `plans` holds the revisions of each model's plan, oldest first. `timezone` is the zone of times written
    without one; None is this computer's. `password_in_file` is whether shop.toml holds the store's password.
    """

    folder: Path
    name: str
    store_url: str
    unit: str
    timezone: str | None
    instruments: Mapping[str, Instrument]
    plans: Mapping[str, tuple[Plan, ...]]
    password_in_file: bool = False

    def instrument(self, name: str) -> Instrument:
        """The instrument by its id; ShopError names the near ones."""
        if name in self.instruments:
            return self.instruments[name]
        raise ShopError(
            f"{unknown('instrument', name, self.instruments)}; add [instruments.{name}] to {FILE}"
        )

    def instrument_or_typed(self, name: str | None) -> Instrument:
        """The instrument by its id, or the usual values where the shop has no such instrument."""
        return self.instruments.get(name or "", TYPED)

    def profile_path(self, instrument: Instrument) -> str | Path:
        """The instrument's profile: a .toml file beside shop.toml, or a shipped one by name."""
        is_file = instrument.profile.endswith(".toml")
        return self.folder / instrument.profile if is_file else instrument.profile

    def line_url(self, instrument: Instrument) -> str:
        """Where the instrument is heard, a relative device taken from the folder; ShopError if typed."""
        if instrument.url is None:
            raise ShopError(f"{instrument.id} has no url in {FILE}, so its readings are typed")
        relative = "://" not in instrument.url and not instrument.url.startswith("/")
        return str(self.folder / instrument.url) if relative else instrument.url

    def species(self) -> dict[str, Species]:
        """The species the shop knows: those shipped, and its own from species.toml beside shop.toml."""
        own = self.folder / SPECIES_FILE
        return load_species(own if own.is_file() else {})

    def zone(self) -> dt.tzinfo:
        """The zone of times written without one."""
        return ZoneInfo(self.timezone) if self.timezone else dt.datetime.now().astimezone().tzinfo or dt.UTC

    def model(self, named: str | None = None) -> str:
        """The model named, or the only one there is; WhichModel where that is not enough."""
        if named:
            if named in self.plans:
                return named
            by_file = {plan.name: model for model, plans in self.plans.items() for plan in plans}
            if named in by_file:
                return by_file[named]
            raise ShopError(unknown("model", named, self.plans))
        if len(self.plans) == 1:
            return next(iter(self.plans))
        if not self.plans:
            raise WhichModel(
                f"there is no plan in {self.folder / 'plans'}; write one, or start with `dryfit new`"
            )
        raise WhichModel(f"the shop has plans for {', '.join(self.plans)}: say which with --model NAME")

    def plan(self, model: str, begun: dt.date | None = None) -> Plan:
        """The revision of a model's plan that holds for a build begun on that date; the newest for None."""
        revisions = self.plans.get(model)
        if not revisions:
            raise ShopError(unknown("model", model, self.plans))
        holding = [p for p in revisions if begun is None or p.since is None or p.since <= begun]
        return (holding or revisions[:1])[-1]

    def revision(self, digest: str) -> Plan | None:
        """The revision with that digest, where a file of the folder still holds it."""
        return next((p for plans in self.plans.values() for p in plans if p.digest == digest), None)


def find_folder(named: str | None) -> Path:
    """The shop's folder: as named, else DRYFIT_SHOP, else the current one; ShopError where it is no shop."""
    folder = Path(named or os.environ.get("DRYFIT_SHOP") or ".").resolve()
    if not (folder / FILE).is_file():
        raise ShopError(
            f"{folder} holds no {FILE}; name a shop with --shop DIR, or make one: dryfit new FOLDER"
        )
    return folder


def load_shop(folder: Path) -> Shop:
    """The shop of a folder; PlanError lists every problem of shop.toml and of every plan at once."""
    problems: list[PlanProblem] = []
    plans: list[Plan] = []
    for path in sorted((folder / "plans").glob("*.toml")):
        try:
            plans.append(load_plan(path))
        except PlanError as error:
            problems += error.problems
    problems += _same_revision(plans)
    notes = Notes()
    fields, text = _fields(folder, notes)
    name = fields.text("name", default=folder.name)
    unit = fields.choice("unit", ("mm", "in"), "mm")
    store_url = fields.text("store", default="sqlite:///readings.db")
    timezone = fields.text("timezone") or None
    if timezone and not _is_zone(timezone):
        fields.problem("timezone", f"{timezone!r} is not a known time zone; write it like 'Europe/Vienna'")
    instruments = _instruments(fields)
    fields.unknown_keys()
    problems += [
        PlanProblem(FILE, line_of(text, key.lstrip(".")), key.lstrip("."), why) for key, why in notes.problems
    ]
    if problems:
        raise PlanError(problems)
    return Shop(
        folder, name, absolute_store(store_url, folder), unit, timezone, instruments, _revisions(plans),
        has_password(store_url),
    )  # fmt: skip


def _fields(folder: Path, notes: Notes) -> tuple[Fields, str]:
    path = folder / FILE
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise ShopError(f"{path} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise ShopError(f"{path} is not UTF-8 text; save it as UTF-8") from error
    return Fields(parse_toml(text, FILE), "", "mm", notes), text


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _instruments(fields: Fields) -> dict[str, Instrument]:
    table = fields.get("instruments") or {}
    if not isinstance(table, Mapping):
        fields.problem("instruments", "must be tables such as [instruments.caliper-1]")
        return {}
    return {str(name): _instrument(fields, str(name), value) for name, value in table.items()}


def _instrument(fields: Fields, name: str, value: object) -> Instrument:
    if not isinstance(value, Mapping):
        fields.problem(f"instruments.{name}", "must be a table")
        return Instrument(name)
    inner = Fields(value, f"instruments.{name}", "mm", fields.notes)
    quantity = inner.choice("quantity", UNITS, "length")
    usual = USUAL[quantity]
    days = inner.number("check_every_days")
    if days is not None and not 1 <= days <= 36_500:
        inner.problem(
            "check_every_days", f"must be a day or more, not {days:g}; leave it out for no reminder"
        )
    instrument = Instrument(
        name,
        _profile(inner, usual.profile),
        inner.text("url") or None,
        _size(inner, "resolution", usual.resolution, UNITS[quantity]),
        _size(inner, "max_permissible_error", usual.max_permissible_error, UNITS[quantity]),
        _size(inner, "repeatability", usual.repeatability, UNITS[quantity]),
        int(days) if days else None,
        quantity,
        _span(inner),
        _correction(inner, quantity),
    )
    inner.unknown_keys()
    return instrument


def _profile(fields: Fields, usual: str) -> str:
    """A shipped profile's name, or a file in the shop's folder: no path leads out of it."""
    name = fields.text("profile", default=usual)
    path = PurePath(name.replace("\\", "/"))
    if path.suffix == ".toml" and (path.is_absolute() or ".." in path.parts):
        fields.problem("profile", f"must be a file beside shop.toml, not {name!r}: copy it into the folder")
        return usual
    return name


def _span(fields: Fields) -> tuple[float, float] | None:
    """What an instrument can read at all: range = [low, high] in its unit."""
    given = fields.get("range")
    if given is None:
        return None
    match given:
        case [int() | float() as low, int() | float() as high] if low < high:
            return float(low), float(high)
    fields.problem("range", f"must be the least and the greatest it reads, such as [0, 150], not {given!r}")
    return None


def _correction(fields: Fields, quantity: str) -> float:
    """What is added to a hygrometer's or a meter's readings."""
    value = fields.number("correction", 0.0) or 0.0
    if value and quantity != "percent":
        fields.problem("correction", "is for meters that read per cent; set a caliper to zero instead")
    if not abs(value) <= 50:
        fields.problem("correction", f"must be within 50 % either way, not {value}")
        return 0.0
    return value


def _size(fields: Fields, name: str, usual: float, unit: str) -> float:
    value = fields.number(name, usual)
    if value is None or not 0 < value < 10:
        fields.problem(name, f"must be above 0 and below 10 {unit}, not {value}")
        return usual
    return value


def _same_revision(plans: list[Plan]) -> list[PlanProblem]:
    seen: dict[tuple[str, dt.date | None], str] = {}
    problems = []
    for plan in plans:
        first = seen.setdefault((plan.model, plan.since), plan.name)
        if first != plan.name:
            why = f"is {plan.model!r} as in {first}.toml; give the later revision a `since` date"
            problems.append(PlanProblem(f"{plan.name}.toml", None, "model", why))
    return problems


def _revisions(plans: list[Plan]) -> dict[str, tuple[Plan, ...]]:
    ordered = sorted(plans, key=lambda plan: plan.since or dt.date.min)
    return {
        model: tuple(p for p in ordered if p.model == model)
        for model in dict.fromkeys(p.model for p in plans)
    }


def write_store_url(folder: Path, url: str) -> None:
    """Name another store in shop.toml, its comments kept."""
    import tomlkit

    path = folder / FILE
    document = tomlkit.parse(path.read_text(encoding="utf-8"))
    document["store"] = url
    write_whole(path, tomlkit.dumps(document))
