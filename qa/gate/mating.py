"""Whether two sizes that meet will fit: the gap between them, from both parts' readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from qa.characteristics.base import MILLION
from qa.conformity import Verdict, conformance_probability, decide
from qa.instruments import budget, suited
from qa.judge import InstrumentOf, Latest
from qa.plans.plan import Mate, Part
from qa.uncertainty import Combined, expanded, propagate


@dataclass(frozen=True, slots=True)
class Fit:
    """The gap predicted between two mates, in millimetres; None where either is not wholly measured.

    `gap` is the mean of the other part's size less the mean of this one's; `worst` the least and greatest gap
    between any two of their stations, each by its expanded uncertainty further out.
    """

    mate: Mate
    verdict: Verdict
    gap: float | None = None
    worst: tuple[float, float] | None = None
    uncertainty: Combined | None = None
    probability: float | None = None


def fit(part: Part, mate: Mate, parts: Mapping[str, Part], latest: Mapping[str, Latest],
        instrument_of: InstrumentOf) -> Fit:  # fmt: skip
    """Judge the gap between a part and one of its mates by the readings that count of each part.

    Errors that both sizes share, such as the zero of one caliper, cancel (JCGM 100:2008, 5.2.2). CannotSay
    where a size was read by what measures no lengths.
    """
    sides = ((part, mate.size, -1.0), (parts[mate.part], mate.size_of, 1.0))
    slopes, budgets, sizes = {}, {}, []
    for owner, size, sign in sides:
        stations = owner.characteristics[size].stations
        rows = [latest.get(owner.name, {}).get((size, station.name)) for station in stations]
        values = []
        for row in rows:
            if row is None:
                return Fit(mate, Verdict.NOT_MEASURED)
            key = f"{owner.name}/{size}/{row.station}"
            slopes[key] = sign / len(rows)
            instrument = suited(instrument_of(row.instrument), "mm")
            budgets[key] = budget(instrument, owner.species, owner.jaw_give, row.taken_at, row.value)
            values.append(row.value)
        sizes.append(values)
    own, other = sizes
    combined = propagate(slopes, budgets)
    gap = sum(other) / len(other) - sum(own) / len(own)
    lower, upper = mate.lower / MILLION, mate.upper / MILLION
    reach = expanded(combined)
    worst = min(other) - max(own) - reach, max(other) - min(own) + reach
    probability = conformance_probability(gap, combined.u, lower, upper)
    return Fit(mate, decide(gap, combined.u, lower, upper), gap, worst, combined, probability)
