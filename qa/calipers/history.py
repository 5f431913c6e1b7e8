"""What an instrument's checks say of its readings, moment by moment."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from drivers.lengths import format_length
from qa.calipers.standing import ADJUSTED, Check, checks_of, day, every
from qa.characteristics.base import MILLION
from qa.instruments import Instrument, Stretch, Studied, same_wood
from qa.record import BenchEvent

FOREVER = "9999"


@dataclass(slots=True)
class _Walk:
    """What is known while walking from one check or fix to the next."""

    instrument: Instrument
    unit: str = "mm"
    known: Stretch = field(default_factory=lambda: Stretch(FOREVER))
    expires: str = FOREVER
    found: list[Stretch] = field(default_factory=list)

    def close(self, until: str, worth: Stretch) -> None:
        """End the stretch at a moment; what a check verified holds no longer than until the next is due."""
        if worth.verified and self.expires < until:
            self.found.append(replace(worth, until=self.expires))
            worth = replace(worth, verified=None)
        self.found.append(replace(worth, until=until))

    def check(self, check: Check) -> None:
        passed, found = check.passed(self.instrument), check.bias(self.instrument)
        why = "" if passed else told(self.instrument, check, self.unit)
        before = self.known
        if not passed and check.state != ADJUSTED:
            before = replace(before, verified=None, off=found, why=why)
        self.close(check.at, before)
        epoch = day(check.at).isoformat() if check.state == ADJUSTED else self.known.epoch
        good, bad = (found, None) if passed else (None, found)
        self.known = Stretch(FOREVER, epoch, good, bad, why)
        interval = every(self.instrument)
        last_day = day(check.at) + (interval or dt.timedelta(0)) + dt.timedelta(days=1)
        self.expires = f"{last_day}T00:00:00.000000Z" if interval else FOREVER

    def fix(self, at: str) -> None:
        self.close(at, self.known)
        self.known = Stretch(FOREVER, day(at).isoformat())


def history(instrument: Instrument, events: Sequence[BenchEvent], unit: str = "mm") -> tuple[Stretch, ...]:
    """The stretches of an instrument by its checks and fixes (events of those kinds), oldest first.

    What a check found is told in `unit` ("mm" or "in"), where it is a length.

    A good check verifies the readings after it, until it is due again, or until a fix or the next check. A
    check failed as found says that all readings since the check or fix before it were off by what it found;
    so are those after it, until a good check or a fix. Empty where it was never checked.
    """
    checks = checks_of(instrument, events)
    if not checks:
        return ()
    fixes = [item.at for item in events if item.kind == "fix" and item.instrument == instrument.id]
    walk = _Walk(instrument, unit)
    marks = [(check.at, 1, check) for check in checks] + [(at, 0, None) for at in fixes]
    for at, _, check in sorted(marks, key=lambda mark: mark[:2]):
        if check is None:
            walk.fix(at)
        else:
            walk.check(check)
    walk.close(FOREVER, walk.known)
    return tuple(walk.found)


def as_known(instrument: Instrument, events: Sequence[BenchEvent], unit: str = "mm") -> Instrument:
    """The instrument as its checks, fixes and studies tell of it; lengths told in `unit`."""
    return replace(with_study(instrument, events), history=history(instrument, events, unit))


def told(instrument: Instrument, check: Check, unit: str = "mm") -> str:
    """What a failed check found, in words; a length in `unit`."""
    error = check.worst.error
    way = "high" if error > 0 else "low"
    amount = f"{round(abs(error), 6):g} {instrument.unit}"
    if (instrument.unit, unit) == ("mm", "in"):
        amount = format_length(round(abs(error) * MILLION), unit)
    return f"{instrument.id} read {amount} too {way} at its check of {day(check.at)}"


def with_study(instrument: Instrument, events: Sequence[BenchEvent]) -> Instrument:
    """The instrument with the repeatability that its last study on each wood found.

    A study is an event of kind "study" with `repeatability` and `dof` in its body, and `species` where it
    was done on a wood; one that holds no sound numbers is passed over. The instrument's own `repeatability`
    is then that on a wood not named.
    """
    own = (item for item in events if item.kind == "study" and item.instrument == instrument.id)
    studies: list[Studied] = []
    for found in filter(None, map(_studied, own)):
        studies = [item for item in studies if not same_wood(item.species, found.species)] + [found]
    return replace(instrument, studies=tuple(studies)).on("")


def _studied(item: BenchEvent) -> Studied | None:
    """What one study found; None where its event holds no sound numbers."""
    try:
        sd, dof = float(str(item.body["repeatability"])), float(str(item.body["dof"]))
    except (KeyError, ValueError):
        return None
    species = item.body.get("species")
    named = species if isinstance(species, str) else ""
    return Studied(sd, dof, named, item.at) if 0 < sd < 10 and dof >= 1 else None
