"""Whether two sizes that meet will fit: the gap between them, from both parts' readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from qa.characteristics.base import MILLION
from qa.conformity import Verdict, conformance_probability, decide
from qa.instruments import budget, suited
from qa.judge import InstrumentOf, Latest
from qa.plans.mate_words import by_means
from qa.plans.plan import Mate, Part
from qa.record import BenchReading
from qa.uncertainty import Combined, ReadingBudget, expanded, propagate


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap in millimetres at a station, or of the means where `station` is "", and its verdict."""

    station: str
    size: float
    uncertainty: Combined
    verdict: Verdict
    probability: float

    @property
    def least(self) -> float:
        return self.size - expanded(self.uncertainty)

    @property
    def most(self) -> float:
        return self.size + expanded(self.uncertainty)


@dataclass(frozen=True, slots=True)
class Fit:
    """The gap predicted between two mates, in millimetres; None where either is not wholly measured.

    `gap` is the mean of the other part's size less the mean of this one's. Where both are read at stations of
    the same names the gap is judged at each of them too, the worst one being `station`; `by_means` where it
    could not be, though a size has several stations. `worst` is the least and the greatest gap at those, else
    between any two stations, each by its expanded uncertainty further out.
    """

    mate: Mate
    verdict: Verdict
    gap: float | None = None
    worst: tuple[float, float] | None = None
    uncertainty: Combined | None = None
    probability: float | None = None
    station: Gap | None = None
    by_means: bool = False


@dataclass(frozen=True, slots=True)
class _Side:
    """A size of one of two mates: its readings by station, and their budgets."""

    key: str
    rows: Mapping[str, BenchReading]
    budgets: Mapping[str, ReadingBudget]

    def slopes(self, sign: float, station: str) -> dict[str, float]:
        """What each reading weighs in the gap, by the names of `budgets`; of all of them for ""."""
        names = [station] if station else [*self.rows]
        return {f"{self.key}/{name}": sign / len(names) for name in names}

    def value(self, station: str) -> float:
        rows = [self.rows[station]] if station else self.rows.values()
        return sum(row.value for row in rows) / len(rows)


def fit(part: Part, mate: Mate, parts: Mapping[str, Part], latest: Mapping[str, Latest],
        instrument_of: InstrumentOf) -> Fit:  # fmt: skip
    """Judge the gap between a part and one of its mates by the readings that count of each part.

    Errors that both sizes share, such as the zero of one caliper, cancel (JCGM 100:2008, 5.2.2). CannotSay
    where a size was read by what measures no lengths.
    """
    own = _side(part, mate.size, latest, instrument_of)
    other = _side(parts[mate.part], mate.size_of, latest, instrument_of)
    if own is None or other is None:
        return Fit(mate, Verdict.NOT_MEASURED)
    mean = _gap(mate, own, other)
    gaps = [_gap(mate, own, other, name) for name in part.meets_at(mate, parts)]
    verdict, station = mean.verdict, max(gaps, key=_how_bad, default=None)
    if station:
        verdict = max(mean, station, key=_how_bad).verdict
        worst = min(gap.least for gap in gaps), max(gap.most for gap in gaps)
    else:
        ours, theirs = ([row.value for row in side.rows.values()] for side in (own, other))
        reach = expanded(mean.uncertainty)
        worst = min(theirs) - max(ours) - reach, max(theirs) - min(ours) + reach
    means = by_means(mate, part, parts)
    return Fit(mate, verdict, mean.size, worst, mean.uncertainty, mean.probability, station, means)


def _side(owner: Part, size: str, latest: Mapping[str, Latest], instrument_of: InstrumentOf) -> _Side | None:
    """None where a station of the size is not read."""
    key, rows, budgets = f"{owner.name}/{size}", {}, {}
    for station in owner.characteristics[size].stations:
        row = latest.get(owner.name, {}).get((size, station.name))
        if row is None:
            return None
        instrument = suited(instrument_of(row.instrument), "mm", row.instrument)
        rows[station.name] = row
        budgets[f"{key}/{station.name}"] = budget(
            instrument, owner.species, owner.jaw_give, row.taken_at, row.value
        )
    return _Side(key, rows, budgets)


def _gap(mate: Mate, own: _Side, other: _Side, station: str = "") -> Gap:
    slopes = own.slopes(-1.0, station) | other.slopes(1.0, station)
    combined = propagate(slopes, {**own.budgets, **other.budgets})
    size = other.value(station) - own.value(station)
    bounds = combined.u, mate.lower / MILLION, mate.upper / MILLION
    return Gap(station, size, combined, decide(size, *bounds), conformance_probability(size, *bounds))


def _how_bad(gap: Gap) -> tuple[int, float]:
    order = (Verdict.CONFORMS, Verdict.UNDECIDED, Verdict.DOES_NOT_CONFORM)
    return order.index(gap.verdict), -gap.probability
