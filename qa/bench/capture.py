"""Joins a reading to the station it was taken at and stores it: the one meeting of drivers and qa.

What a bench is doing is read from the rows themselves: the next station is the first of the plan that has
been read least often since the part was last planed. So nothing is lost when a program stops, and two screens
agree.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from drivers.reading import Reading
from qa.bench.clock import onward
from qa.bench.expected import expected
from qa.bench.planing import PLANED, last_planed, outlived, planings, still_holding
from qa.bench.watch import ACCEPTED, watch
from qa.characteristics.base import LARGEST, MILLION, Characteristic, Station
from qa.errors import ShopError
from qa.instruments import TYPED, Instrument
from qa.plans.plan import Part, Plan
from qa.plans.revisions import Revisions
from qa.record import BenchEvent, BenchReading, place_name, standing, utc
from qa.store.store import Store


@dataclass(frozen=True, slots=True)
class Place:
    """Where the next reading belongs: a characteristic, its station, and how often it was read before."""

    characteristic: Characteristic
    station: Station
    read_before: int

    @property
    def name(self) -> str:
        """Characteristic and station, as a person would say it."""
        return place_name(self.characteristic.name, self.station.name)


def now() -> dt.datetime:
    """The time by this computer's clock."""
    return dt.datetime.now(dt.UTC)


@dataclass(slots=True)
class Bench:
    """One part being read at one bench, by one instrument or by typing.

    `again` is a reading to be taken anew: the next one corrects it.
    """

    store: Store
    plan: Plan
    part: Part
    build: str
    instrument: Instrument
    bench: str = ""
    machine: str = ""
    clock: Callable[[], dt.datetime] = now
    again: BenchReading | None = field(default=None)

    def rows(self) -> list[BenchReading]:
        """Every row of this part, in the order it was stored."""
        return self.store.readings(self.build, self.part.name)

    def asked(self) -> list[BenchReading]:
        """The rows of this part of what the plan asks now."""
        return Revisions.kept(self.store.plan_text).asked_now(self.rows(), self.plan)

    def holding(self) -> list[BenchReading]:
        """The rows of this part that its last pass of planing has left to be judged."""
        return still_holding(self.part, self.asked(), last_planed(self._events(), self.part.name))

    def skipped(self) -> list[BenchEvent]:
        """Skips that stand."""
        return _skips(self._events())

    def _events(self) -> list[BenchEvent]:
        return self.store.events(build=self.build, part=self.part.name)

    def next_place(self) -> Place:
        """The station to read next: the first of the plan among those read least often."""
        return self._due(self.rows(), self._events())

    def _due(self, every: Sequence[BenchReading], events: Sequence[BenchEvent]) -> Place:
        if self.again is not None:
            return self._place_of(self.again)
        revisions, skips = Revisions.kept(self.store.plan_text), _skips(events)
        rows = [row for row in standing(every) if not revisions.otherwise(row, self.plan)]
        planed_at = last_planed(events, self.part.name)
        counts: Counter[tuple[str, str]] = Counter()
        counts.update((row.characteristic, row.station) for row in rows)
        counts.update((item.characteristic, item.station) for item in skips)
        places = [Place(c, s, counts[c.name, s.name]) for c, s in self.part.to_read()]
        if not places:
            raise ShopError(f"part {self.part.name!r} of plan {self.plan.name} has nothing to read")
        void = Counter((row.characteristic, row.station) for row in outlived(self.part, rows, planed_at))
        void.update((item.characteristic, item.station) for item in skips if item.at < planed_at)
        return min(places, key=lambda p: p.read_before - void[p.characteristic.name, p.station.name])

    def has_place(self, row: BenchReading) -> bool:
        """Whether the plan still has the place of a row."""
        return any((c.name, s.name) == (row.characteristic, row.station) for c, s in self.part.to_read())

    def _place_of(self, row: BenchReading) -> Place:
        for characteristic, station in self.part.to_read():
            if (characteristic.name, station.name) == (row.characteristic, row.station):
                return Place(characteristic, station, 0)
        raise ShopError(f"the plan no longer has {row.place}")

    def take(self, reading: Reading, entered: str = "", at: str = "") -> BenchReading:
        """Store a reading at the next station, durably, before anything is shown of it.

        A reading that is doubted (a slip of unit or decimal place, a doubled one, closed jaws, a jump) is
        stored but held: it does not count until accepted. `at` is the time it was taken where that is known
        already. A person who types at a place the instrument cannot read has read it with another, so the
        row names none and its note says so. A meter's correction is added, and what it showed is noted.
        ShopError where the unit, or the instrument that sent it, does not fit the characteristic.
        """
        before, events = self.rows(), self._events()
        place = self._due(before, events)
        millionths = millionths_of(reading, place.characteristic)
        by_line = isinstance(reading.raw, bytes)
        instrument, told = read_by(self.instrument, place.characteristic, by_line=by_line)
        if instrument.correction:
            told = f"shown {reading.value} %, corrected by {instrument.correction:+g} %"
        clock = self.clock()
        taken_at, late = (at, "") if at else onward(clock, before, events, reading.at)
        row = BenchReading(
            taken_at=at or utc(reading.at or clock),
            build=self.build,
            part=self.part.name,
            characteristic=place.characteristic.name,
            station=place.station.name,
            millionths=millionths + round(instrument.correction * MILLION),
            unit=place.characteristic.unit,
            as_entered=entered or as_text(reading),
            instrument=instrument.id,
            bench=self.bench,
            machine=self.machine,
            note="; ".join(filter(None, (late, told))),
            corrects=self.again.sequence if self.again else None,
            why="read again" if self.again else "",
        )
        suspect = watch(row, before, expected(place.characteristic), instrument, by_line=by_line)
        stored = self._append(replace(row, taken_at=taken_at, suspect=suspect, held=bool(suspect)))
        if not stored.held:
            self.again = None
        return stored

    def moment(self) -> str:
        """The time of what is done now, after all that was done with this part."""
        return onward(self.clock(), self.rows(), self._events())[0]

    def doubted(self) -> BenchReading | None:
        """The held reading that waits for an answer: the last row of this part, where that is held.

        None once the part was planed: the reading tells nothing of it any more.
        """
        last = max(self.rows(), key=lambda row: row.sequence, default=None)
        if last is None or not last.held:
            return None
        gone = outlived(self.part, [last], last_planed(self._events(), self.part.name))
        return None if gone else last

    def accept(self, held: BenchReading) -> BenchReading:
        """Let a held reading count: a new row that names it."""
        self.again = None
        at, of = self.moment(), held.sequence
        return self._append(replace(held, taken_at=at, held=False, corrects=of, why=ACCEPTED))

    def undo(self) -> BenchReading | BenchEvent | None:
        """Take back the last reading, skip or pass of planing of this part by a new row; None for none."""
        held = self.doubted()
        if self.again is not None and held is None:
            self.again = None
            return None
        marks = [*self.skipped(), *planings(self._events(), self.part.name)]
        last_row = held or self._last()
        last_mark = max(marks, key=lambda item: item.sequence, default=None)
        if last_mark and (last_row is None or last_mark.at > last_row.taken_at):
            self._take_back(last_mark)
            return last_mark
        if last_row is not None:
            self._withdraw(last_row)
        return last_row

    def _take_back(self, mark: BenchEvent) -> None:
        kind, body = f"{mark.kind} taken back", {"of": mark.sequence}
        self.store.add_event(replace(mark, at=self.moment(), kind=kind, text="undone", body=body))

    def _withdraw(self, row: BenchReading) -> None:
        at, of = self.moment(), row.sequence
        bare = replace(row, taken_at=at, millionths=None, as_entered="", suspect="", note="", held=False)
        self._append(replace(bare, corrects=of, why="undone"))

    def read_again(self) -> BenchReading | None:
        """Make the next reading correct the last one. None where there is none yet, or no place for it.

        A held reading counts for nothing, so its place is due already and nothing is to be corrected.
        """
        held = self.doubted()
        if held is not None:
            return held
        last = self._last()
        self.again = last if last and self.has_place(last) else None
        return self.again

    def _last(self) -> BenchReading | None:
        return max(standing(self.rows()), key=lambda row: row.sequence, default=None)

    def skip(self, reason: str) -> Place:
        """Leave the next station unread this time, with the reason kept."""
        place = self.next_place()
        self.again = None
        self.store.add_event(
            BenchEvent(
                self.moment(),
                "skip",
                self.build,
                self.part.name,
                place.characteristic.name,
                place.station.name,
                self.instrument.id,
                reason,
            )
        )
        return place

    def planed(self) -> BenchEvent:
        """Keep that a pass of planing was made: the part's readings before it no longer tell its sizes."""
        self.again = None
        done = BenchEvent(self.moment(), PLANED, self.build, self.part.name)
        return replace(done, sequence=self.store.add_event(done))

    def _append(self, row: BenchReading) -> BenchReading:
        return replace(row, plan=self.plan.digest, sequence=self.store.append(row, self.plan))


def _skips(events: Sequence[BenchEvent]) -> list[BenchEvent]:
    taken_back = {item.body.get("of") for item in events if item.kind == "skip taken back"}
    return [item for item in events if item.kind == "skip" and item.sequence not in taken_back]


def millionths_of(reading: Reading, characteristic: Characteristic) -> int:
    """A reading in whole millionths of the characteristic's unit.

    ShopError where the units do not fit, or the reading is beyond what any part measures.
    """
    if characteristic.unit == "mm" and reading.nanometres is not None:
        found = reading.nanometres
    elif reading.unit == characteristic.unit:
        found = round(reading.value * MILLION)
    else:
        unit = characteristic.unit
        raise ShopError(
            f"{as_text(reading)} is in {reading.unit}, but {characteristic.name} is read in {unit}"
        )
    if abs(found) > LARGEST:
        most = "10 m" if characteristic.unit == "mm" else f"{LARGEST // MILLION} {characteristic.unit}"
        raise ShopError(f"{as_text(reading)} is beyond {most}: nothing was stored; read it again")
    return found


def read_by(at_hand: Instrument, item: Characteristic, *, by_line: bool) -> tuple[Instrument, str]:
    """What read a characteristic, and a note where that cannot be the instrument at hand.

    ShopError where that instrument sent or typed the reading itself (`by_line`) but measures something else.
    """
    if not at_hand.id or at_hand.unit == item.unit:
        return at_hand, ""
    why = f"{at_hand.id} reads {at_hand.unit}, but {item.name} is read in {item.unit}"
    if by_line:
        raise ShopError(f"{why}: nothing was stored; read it with another instrument, or type it")
    return TYPED, f"typed, no instrument named: {why}"


def as_text(reading: Reading) -> str:
    """What the instrument sent or the person typed."""
    return reading.raw if isinstance(reading.raw, str) else f"{reading.value} {reading.unit}"
