"""How wood takes up moisture from the room, and how much it then moves.

Source: USDA Wood Handbook, FPL-GTR-282 chapter 4 (moisture) and FPL-GTR-190 chapter 13 (movement).
"""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

from qa.arithmetic import finite
from qa.errors import CannotSay

Direction = Literal["radial", "tangential", "longitudinal"]

COLDEST, HOTTEST = -1.12, 132.23  # degrees Celsius: 30 and 270 degrees Fahrenheit, what the table spans
LINEAR_MC = (6.0, 14.0)  # per cent moisture content between which a movement coefficient holds
FIBRE_SATURATION = 30.0  # per cent: above it wood no longer moves
HANDBOOK = "USDA Wood Handbook FPL-GTR-190, table 13-5"
# Along the grain wood shrinks 0.1 to 0.2 % from green to dry (Wood Handbook chapter 4): the relation of
# coefficient_from_shrinkage() for 0.15 %.
LONGITUDINAL = 1 / (100 * FIBRE_SATURATION / 0.15 - FIBRE_SATURATION + 10)


@dataclass(frozen=True, slots=True)
class Species:
    """A wood: movement coefficients per 1 % of moisture content, and where they come from.

    derived: worked out from shrinkage figures rather than read in a table of coefficients.
    """

    name: str
    radial: float
    tangential: float
    source: str = HANDBOOK
    derived: bool = False
    also: tuple[str, ...] = ()


def equilibrium_moisture(rh_percent: float, temp_c: float) -> float:
    """Moisture content (%) that wood settles to in air of `rh_percent` (0 < RH < 100) at `temp_c` (deg C).

    Good to about 1 %: made for Sitka spruce, midway between wetting and drying; wood that has been drier or
    wetter differs. CannotSay outside those humidities, or -1.1 to 132.2 deg C. Source: USDA Wood Handbook
    FPL-GTR-282 equation 4-5 (Hailwood-Horrobin, two hydrates).
    """
    h, t = _humidity(rh_percent), finite.number(temp_c, "temperature")
    if not COLDEST <= t <= HOTTEST:
        raise CannotSay(f"temperature must lie between -1.1 and 132.2 deg C, got {t:g}")
    w = 349 + 1.29 * t + 0.0135 * t**2
    kh = (0.805 + 0.000736 * t - 0.00000273 * t**2) * h
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    bound = k1 * kh + k1 * k2 * kh**2
    return 1800 / w * (kh / (1 - kh) + (bound + k1 * k2 * kh**2) / (1 + bound))


def movement(size: float, coefficient: float, from_mc: float, to_mc: float) -> float:
    """Change of a size across the grain, in the size's unit: size * coefficient * (to_mc - from_mc).

    coefficient per 1 %; moisture contents in per cent of dry mass. Holds between 6 and 14 % (LINEAR_MC); a
    little outside, it is an extrapolation: movement_by_shrinkage() is made for that. CannotSay where a
    moisture content lies outside 0 to 30 %. Source: USDA Wood Handbook FPL-GTR-190 equation 13-2.
    """
    grown = finite.positive(size, "size") * finite.not_negative(coefficient, "movement coefficient")
    return grown * (_moisture(to_mc) - _moisture(from_mc))


def movement_by_shrinkage(
    size: float,
    shrinkage_percent: float,
    from_mc: float,
    to_mc: float,
    fibre_saturation: float = FIBRE_SATURATION,
) -> float:
    """Change of a size from total shrinkage (green to ovendry, %), for moisture contents outside 6 to 14 %.

    size * (to - from) / (100 F/S - F + from); moisture above fibre saturation F (%) moves nothing.
    Source: USDA Wood Handbook FPL-GTR-190 equation 13-3 (with F = 30: 3000/S - 30 + from).
    """
    f = finite.positive(fibre_saturation, "fibre saturation")
    s = finite.positive(shrinkage_percent, "total shrinkage")
    before = min(finite.not_negative(from_mc, "moisture content"), f)
    after = min(finite.not_negative(to_mc, "moisture content"), f)
    return finite.positive(size, "size") * (after - before) / (100 * f / s - f + before)


def coefficient_from_shrinkage(shrinkage_percent: float, fibre_saturation: float = FIBRE_SATURATION) -> float:
    """Movement coefficient per 1 % from total shrinkage (%): 1 / (100 F/S - F + 10), about 10 % moisture.

    Reproduces USDA Wood Handbook table 13-5 from its shrinkage figures.
    """
    s = finite.positive(shrinkage_percent, "total shrinkage")
    f = finite.positive(fibre_saturation, "fibre saturation")
    return 1 / (100 * f / s - f + 10)


def size_at(size: float, coefficient: float, rh_from: float, rh_to: float, temp_c: float = 21.0) -> float:
    """Size once settled at `rh_to`, of a part that has `size` settled at `rh_from` (RH in %, deg C)."""
    before, after = equilibrium_moisture(rh_from, temp_c), equilibrium_moisture(rh_to, temp_c)
    return size + movement(size, coefficient, before, after)


def rh_window(
    size: float,
    coefficient: float,
    lower: float | None,
    upper: float | None,
    rh_now: float,
    temp_c: float = 21.0,
) -> tuple[float, float] | None:
    """Relative humidities (low, high) in %, between which a part of `size` at `rh_now` stays in tolerance.

    Looks no further than moisture contents of 6 to 14 %, where the coefficient holds, and `rh_now`: an end
    that lies there means "at least so far". None where no humidity in that range brings the part into
    tolerance. lower and upper in the size's unit, None for no limit.
    """
    low, high = _limits(lower, upper)
    now = equilibrium_moisture(rh_now, temp_c)
    driest = min(rh_now, _rh_for(LINEAR_MC[0], temp_c))
    wettest = max(rh_now, _rh_for(LINEAR_MC[1], temp_c))
    per_percent = movement(size, coefficient, 0, 1)
    smallest, largest = (size_at(size, coefficient, rh_now, rh, temp_c) for rh in (driest, wettest))
    if largest < low or smallest > high:
        return None
    dry = driest if smallest >= low else _rh_for(now + (low - size) / per_percent, temp_c)
    wet = wettest if largest <= high else _rh_for(now + (high - size) / per_percent, temp_c)
    return dry, wet


def rh_between(
    value_at: Callable[[float], float],
    lower: float | None,
    upper: float | None,
    rh_now: float,
    temp_c: float = 21.0,
) -> tuple[float, float] | None:
    """Relative humidities (low, high) in %, about `rh_now`, at which value_at(RH) stays within its limits.

    As rh_window(), for what humidity moves one way only, by no simple proportion.
    """
    low, high = _limits(lower, upper)
    ends = min(rh_now, _rh_for(LINEAR_MC[0], temp_c)), max(rh_now, _rh_for(LINEAR_MC[1], temp_c))
    at_ends = [value_at(rh) for rh in ends]
    if max(at_ends) < low or min(at_ends) > high:
        return None
    edges = []
    for rh, value in zip(ends, at_ends, strict=True):
        limit = low if value < low else high
        edges.append(rh if low <= value <= high else _where(value_at, limit, ends))
    return edges[0], edges[1]


def _where(value_at: Callable[[float], float], limit: float, ends: tuple[float, float]) -> float:
    from scipy.optimize import brentq

    return float(brentq(lambda rh: value_at(rh) - limit, *ends, xtol=1e-9))


def species(name: str, known: Mapping[str, Species] | None = None) -> Species:
    """A species by name, whatever its case, hyphens and spaces; of `known` where given (see load_species).

    CannotSay with near names where there is none.
    """
    table = known if known is not None else _shipped()
    by_key = {plain_name(word): wood for wood in table.values() for word in (wood.name, *wood.also)}
    by_key |= {plain_name(word): wood for word, wood in table.items()}
    found = by_key.get(plain_name(name))
    if found is None:
        raise CannotSay(f"no movement figures for {name!r}{_near(plain_name(name), by_key)}")
    return found


def species_names(known: Mapping[str, Species] | None = None) -> list[str]:
    """Names of the species there are figures for, in order."""
    return sorted(wood.name for wood in (known if known is not None else _shipped()).values())


def coefficient(wood: Species | str, direction: Direction) -> float:
    """Movement coefficient per 1 % of moisture content, along "radial", "tangential" or "longitudinal".

    Along the grain it is practically nothing and the same for every species: 0.00005, from a total shrinkage
    of 0.15 % (the Wood Handbook gives 0.1 to 0.2 %). CannotSay for another direction or an unknown species.
    """
    chosen = species(wood) if isinstance(wood, str) else wood
    across = {"radial": chosen.radial, "tangential": chosen.tangential, "longitudinal": LONGITUDINAL}
    if direction not in across:
        raise CannotSay(f"grain direction must be one of {', '.join(across)}; got {direction!r}")
    return across[direction]


def load_species(extra: Mapping[str, Mapping[str, Any]] | Path) -> dict[str, Species]:
    """The shipped species with a shop's own added or put in their place.

    extra: tables by key (name, radial, tangential, and optionally source, also), or a TOML file of them.
    CannotSay names the species whose figures cannot be used.
    """
    return {**_shipped(), **_tables(_read(extra) if isinstance(extra, Path) else extra)}


@cache
def _shipped() -> dict[str, Species]:
    return _tables(_read(Path(__file__).with_name("species.toml")))


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise CannotSay(f"{path}: cannot read species: {error}") from None


def _tables(tables: Mapping[str, Mapping[str, Any]]) -> dict[str, Species]:
    return {key: _species(key, table) for key, table in tables.items()}


def _species(key: str, table: Mapping[str, Any]) -> Species:
    if not isinstance(table, Mapping):
        raise CannotSay(f"species {key}: needs a table with radial and tangential")
    radial, tangential = (_figure(key, table, direction) for direction in ("radial", "tangential"))
    name, source = str(table.get("name", key)), str(table.get("source", HANDBOOK))
    also = tuple(str(word) for word in table.get("also", ()))
    return Species(name, radial, tangential, source, bool(table.get("derived", False)), also)


def _figure(key: str, table: Mapping[str, Any], direction: str) -> float:
    figure = finite.positive(table.get(direction, math.nan), f"species {key}: {direction}")
    if figure > 0.01:
        raise CannotSay(f"species {key}: {direction} = {figure:g} is per 1 %, and never above 0.01")
    return figure


def plain_name(name: str) -> str:
    """A name of a wood as it is compared: case, hyphens and spaces make no difference."""
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def _near(key: str, by_key: Mapping[str, Species]) -> str:
    close = difflib.get_close_matches(key, by_key, n=3, cutoff=0.5)
    close += [known for known in by_key if key and key in known]
    names = list(dict.fromkeys(by_key[word].name for word in close))[:5]
    return (
        f"; did you mean {', '.join(names)}?" if names else "; add it to the shop's species, with its source"
    )


def _humidity(rh_percent: float) -> float:
    rh = finite.number(rh_percent, "relative humidity")
    if not 0 < rh < 100:
        raise CannotSay(f"relative humidity must lie above 0 and below 100 %, got {rh:g}")
    return rh / 100


def _moisture(mc: float) -> float:
    value = finite.number(mc, "moisture content")
    if not 0 <= value <= FIBRE_SATURATION:
        raise CannotSay(f"moisture content must lie between 0 and {FIBRE_SATURATION:g} %, got {value:g}")
    return value


def _limits(lower: float | None, upper: float | None) -> tuple[float, float]:
    low = -math.inf if lower is None else finite.number(lower, "lower limit")
    high = math.inf if upper is None else finite.number(upper, "upper limit")
    if low > high:
        raise CannotSay(f"limits are reversed: lower {low:g} above upper {high:g}")
    return low, high


def _rh_for(mc: float, temp_c: float) -> float:
    """The relative humidity (%) at which wood settles to `mc` (%)."""
    from scipy.optimize import brentq

    return float(brentq(lambda rh: equilibrium_moisture(rh, temp_c) - mc, 1e-6, 100 - 1e-6, xtol=1e-10))
