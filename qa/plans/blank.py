"""How large to cut a blank: the finished size, and what dome, wedge, trimming, saw and air will take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from qa.characteristics.base import MILLION
from qa.geometry import sagitta
from qa.plans.plan import Part, Reference
from qa.plans.planned import BlankSize
from qa.wood import Species, coefficient, equilibrium_moisture, species


@dataclass(frozen=True, slots=True)
class Allowance:
    """One allowance, in millimetres, and the formula it comes from with its numbers."""

    name: str
    amount: float
    formula: str = ""


@dataclass(frozen=True, slots=True)
class Blank:
    """A blank's size in millimetres: `cut` is the size to cut, `stock` what the saw needs with its kerfs."""

    size: str
    finished: float
    allowances: tuple[Allowance, ...]
    kerf: Allowance | None = None

    @property
    def cut(self) -> float:
        return self.finished + sum(item.amount for item in self.allowances)

    @property
    def stock(self) -> float:
        return self.cut + (self.kerf.amount if self.kerf else 0.0)


def blanks(part: Part, reference: Reference, known: Mapping[str, Species] | None = None) -> list[Blank]:
    """The blank sizes of a part.

    CannotSay where the wood's movement is asked for and its species has no figures.
    """
    return [_blank(part, item, reference, known) for item in part.blanks]


def _blank(part: Part, item: BlankSize, reference: Reference, known: Mapping[str, Species] | None) -> Blank:
    finished = item.finished / MILLION
    found = [*_dome(item)]
    for name, amount in (("wedge", item.wedge), ("trimming", item.trimming)):
        if amount:
            found.append(Allowance(name, amount / MILLION))
    if item.moves_from_rh is not None:
        kept = finished + sum(each.amount for each in found)
        found.append(_movement(part, item, kept, item.moves_from_rh, reference, known))
    kerf = item.cuts * item.kerf / MILLION
    words = f"{item.cuts} x {item.kerf / MILLION:g} mm"
    return Blank(item.name, finished, tuple(found), Allowance("kerf", kerf, words) if kerf else None)


def _dome(item: BlankSize) -> list[Allowance]:
    """What the part must stand higher at its place nearest the dome's middle than at its farthest."""
    if item.dome_radius is None or item.dome_from is None:
        return []
    radius, (near, far) = item.dome_radius, item.dome_from
    drop = sagitta(radius, 2 * far) - (sagitta(radius, 2 * near) if near else 0.0)
    formula = f"sqrt(R² - a²) - sqrt(R² - b²), R {radius:g}, a {near:g}, b {far:g} mm"
    return [Allowance("dome", drop, formula)]


def _movement(
    part: Part,
    item: BlankSize,
    kept: float,
    from_rh: float,
    reference: Reference,
    known: Mapping[str, Species] | None,
) -> Allowance:
    """What drying will take: the size now that becomes `kept`; nothing where the wood will swell.

    Source: USDA Wood Handbook FPL-GTR-190 equation 13-2, solved for the size before.
    """
    to_rh = reference.rh_percent if item.moves_to_rh is None else item.moves_to_rh
    per_percent = coefficient(species(part.species, known), item.grain)  # type: ignore[arg-type]  # a direction
    before, after = (equilibrium_moisture(rh, reference.temp_c) for rh in (from_rh, to_rh))
    amount = max(0.0, kept / (1 + per_percent * (after - before)) - kept)
    numbers = f"D {kept:.2f} mm, C {per_percent:.5f}, M {before:.1f} to {after:.1f} %"
    return Allowance("movement", amount, f"D / (1 + C (M2 - M1)) - D, {numbers}")
