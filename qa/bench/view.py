"""What a bench shows at a glance: the next place, the last reading and its verdict, what to take off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from qa.bench.planing import is_changed, last_planed
from qa.characteristics import kinds
from qa.characteristics.base import MILLION, in_units
from qa.conformity import Verdict
from qa.gate.advice import advise
from qa.gate.advice_words import say
from qa.geometry import sagitta
from qa.judge import InstrumentOf, Judged, JudgedPart, judge_part
from qa.record import BenchReading, place_name, standing

if TYPE_CHECKING:
    from qa.bench.capture import Bench, Place
    from qa.plans.planned import Part

Cue = Literal["stored", "outside", "doubted", ""]


@dataclass(frozen=True, slots=True)
class BenchView:
    """One part at the bench as it stands.

    `last` is the last reading that counts or is held, None where nothing was read; `judged` is the verdict on
    it, None while it is held or has been `overtaken` by planing; `shape` are the verdicts on what is made of
    it (taper, twist) as far as its readings are complete. `done` of `due` places have been read in the pass
    under way, which is the `turn`-th. `advice` is in words, "" where there is none yet. `mark` changes with
    every row of the part. `cue` is for the ear: what the last row brought, "" for an undo.
    """

    place: Place
    again: bool
    done: int
    due: int
    turn: int
    last: BenchReading | None
    held: bool
    overtaken: bool
    judged: Judged | None
    shape: tuple[Judged, ...]
    part: JudgedPart
    advice: str
    mark: int
    cue: Cue


@dataclass(frozen=True, slots=True)
class Run:
    """What was read at one station, pass after pass, in the unit of its characteristic."""

    station: str
    values: tuple[float, ...]


def look(bench: Bench, instrument_of: InstrumentOf, shop_unit: str) -> BenchView:
    """A part as its bench shows it, judged alone."""
    rows = bench.rows()
    events = bench.store.events(build=bench.build, part=bench.part.name)
    planed_at = last_planed(events, bench.part.name)
    judged = judge_part(bench.part, bench.holding(), instrument_of)
    held = bench.doubted()
    last = held or max(standing(rows), key=lambda row: row.sequence, default=None)
    overtaken = last is not None and last.taken_at < planed_at and is_changed(bench.part, last.characteristic)
    own, shape = _verdicts(bench.part, judged, last) if last and not held and not overtaken else (None, ())
    place = bench.next_place()
    done, due = _progress(bench, place)
    return BenchView(
        place=place,
        again=bench.again is not None,
        done=done,
        due=due,
        turn=place.read_before + 1,
        last=last,
        held=held is not None,
        overtaken=overtaken,
        judged=own,
        shape=shape,
        part=judged,
        advice=_advice(bench, last, instrument_of, planed_at, shop_unit) if last and not held else "",
        mark=max((row.sequence for row in rows), default=0),
        cue="" if _withdrawn(rows) else _cue(held, own, shape),
    )


def _withdrawn(rows: Sequence[BenchReading]) -> bool:
    """Whether the last that was done is an undo."""
    newest = max(rows, key=lambda row: row.sequence, default=None)
    return newest is not None and newest.millionths is None


def _progress(bench: Bench, place: Place) -> tuple[int, int]:
    """How many places were read in the pass under way, of how many."""
    places = [(c.name, s.name) for c, s in bench.part.to_read()]
    at = (place.characteristic.name, place.station.name)
    return (places.index(at) if at in places and bench.again is None else 0), len(places)


def _verdicts(part: Part, judged: JudgedPart, last: BenchReading) -> tuple[Judged | None, tuple[Judged, ...]]:
    own, shape = None, []
    for item in judged.characteristics:
        source = part.characteristics[item.characteristic].of
        if item.characteristic == last.characteristic and (item.station or "") == last.station:
            own = item
        elif source == last.characteristic and item.value is not None:
            shape.append(item)
        elif item.characteristic == last.characteristic and item.station is None and item.value is not None:
            own = own or item
    return own, tuple(shape)


def _cue(held: BenchReading | None, own: Judged | None, shape: Sequence[Judged]) -> Cue:
    if held is not None:
        return "doubted"
    verdicts = {item.verdict for item in (own, *shape) if item is not None}
    return "outside" if Verdict.DOES_NOT_CONFORM in verdicts else "stored" if own is not None else ""


def _advice(
    bench: Bench, last: BenchReading, instrument_of: InstrumentOf, planed_at: str, shop_unit: str
) -> str:
    for item in advise(bench.part, bench.asked(), instrument_of, planed_at):
        if item.characteristic == last.characteristic and not item.missing:
            return say(item, shop_unit)
    return ""


def runs(part: Part, rows: Sequence[BenchReading], characteristic: str) -> tuple[Run, ...]:
    """What was read at each station of a characteristic pass after pass, where any was read twice."""
    item = part.characteristics.get(characteristic)
    if item is None or not kinds()[item.kind].sized:
        return ()
    found = [
        Run(
            station.name or characteristic,
            tuple(
                row.value
                for row in standing(rows)
                if (row.characteristic, row.station) == (characteristic, station.name)
            ),
        )
        for station in item.stations
    ]
    return tuple(run for run in found if run.values) if any(len(run.values) > 1 for run in found) else ()


def likely(place: Place) -> float | None:
    """A value one might read there while the part is being planed to size, mm; for a make-believe caliper.

    The first pass is thick at the far end, each further one nearer to the target. None where the place is
    not read in lengths.
    """
    item = place.characteristic
    if item.unit != "mm":
        return None
    if item.kind == "radius":
        return sagitta(item.number("radius"), item.number("chord"))
    lower, upper = in_units(item.lower), in_units(item.upper)
    if item.target is None or lower is None or upper is None or not kinds()[item.kind].sized:
        return 0.3 * (upper if upper is not None else 0.1)
    reach = max((station.y for station in item.stations), default=0.0)
    share = place.station.y / reach if reach > 0 else 0.0
    room = (upper - lower) / 2
    return item.target / MILLION + room * (0.35 + share) / (1 + place.read_before) ** 2


def places(part: Part) -> Iterator[str]:
    """The names of every place of a part, in the order they are read."""
    for characteristic, station in part.to_read():
        yield place_name(characteristic.name, station.name)
