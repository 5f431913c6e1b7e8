"""What the gate looks at, and which readings it rests on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from qa.bench.planing import last_planed, still_holding
from qa.bench.watch import waiting
from qa.calipers.standing import State
from qa.judge import InstrumentOf, Latest, latest_by_station
from qa.plans.plan import Part, Plan
from qa.plans.revisions import UNKNOWN, Revisions
from qa.record import BenchEvent, BenchReading, standing
from qa.wood import Species


@dataclass(frozen=True, slots=True)
class Climate:
    """The room's air: relative humidity in per cent, degrees Celsius, and when that was so."""

    rh_percent: float
    temp_c: float | None = None
    at: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the gate looks at: a build's readings and events, its instruments, the room, the time.

    `states` are the standings of the instruments by id; `struck` are instruments that were checked and are in
    shop.toml no more. `revisions` are those of the plan that readings were stored under.
    """

    build: str
    plan: Plan
    readings: Sequence[BenchReading]
    events: Sequence[BenchEvent]
    instrument_of: InstrumentOf
    states: Mapping[str, State]
    now: dt.datetime
    climate: Climate | None = None
    species: Mapping[str, Species] | None = None
    unit: str = "mm"
    struck: frozenset[str] = frozenset()
    revisions: Revisions = UNKNOWN

    def _of(self, part: str) -> list[BenchReading]:
        """The rows of one part of what the plan asks now."""
        return self.revisions.asked_now([row for row in self.readings if row.part == part], self.plan)

    def rows(self, part: str) -> list[BenchReading]:
        """The rows of one part that stand and that the plan asks for as they were read, oldest first."""
        return standing(self._of(part))

    def holding(self, part: Part) -> list[BenchReading]:
        """The rows of one part that stand and that no later planing has made void."""
        return still_holding(part, self.rows(part.name), last_planed(self.events, part.name))

    def latest(self, part: Part) -> Latest:
        """What counts of a part, by (characteristic, station)."""
        return latest_by_station(self.holding(part))

    def concerned(self, part: Part) -> list[Part]:
        """The part, and those whose sizes it meets."""
        names = dict.fromkeys([part.name, *(mate.part for mate in part.mates)])
        return [self.plan.parts[name] for name in names]

    def resting(self, part: Part) -> list[BenchReading]:
        """The readings that the gate of a part rests on: its own, and those of the sizes it meets."""
        return [
            row for one in self.concerned(part) for row in self.latest(one).values() if self._asked(part, row)
        ]

    def held(self, part: Part) -> Iterator[BenchReading]:
        """Doubted readings newer than what counts at their place, which wait for an answer."""
        for one in self.concerned(part):
            found = waiting(self._of(one.name))
            still = still_holding(one, found, last_planed(self.events, one.name))
            yield from (row for row in still if self._asked(part, row))

    def read_otherwise(self, part: Part) -> list[BenchReading]:
        """The last rows at the gate's places that another revision asked for as something else."""
        found = []
        for one in self.concerned(part):
            own = [row for row in self.readings if row.part == one.name]
            if len(self._of(one.name)) < len(own):
                last = still_holding(one, standing(own), last_planed(self.events, one.name))
                found += [row for row in latest_by_station(last).values() if self._asked(part, row)]
        return [row for row in found if self.revisions.otherwise(row, self.plan)]

    def last_row(self, part: Part) -> int:
        """The sequence of the last row of the part or of one it meets, whatever it is worth; 0 for none."""
        names = {one.name for one in self.concerned(part)}
        return max((row.sequence for row in self.readings if row.part in names), default=0)

    def _asked(self, part: Part, row: BenchReading) -> bool:
        """Whether a reading is at a place the plan asks for, of the part or of a size it meets."""
        item = self.plan.parts[row.part].characteristics.get(row.characteristic)
        if item is None or all(station.name != row.station for station in item.stations):
            return False
        met = {(mate.part, mate.size_of) for mate in part.mates}
        return row.part == part.name or (row.part, row.characteristic) in met
