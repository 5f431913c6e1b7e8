"""Which profile fits an instrument: every one is tried on the bytes a few presses sent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from drivers.frames import Decoder
from drivers.profile import Profile, TextLayout
from drivers.reading import BadRecord, Reading

ENOUGH = 2
"""Readings from which a fit is believed."""

EXPLAINED = 0.9
"""The share of the bytes a profile must read before it is believed."""

DAMAGED = 160
"""How many of the bytes are damaged in turn to see how strict a profile is."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How well one profile reads the bytes.

    `explained` is the share of the bytes that ended in readings, a first record that was cut by listening too
    late not counted against it; `strict` the share of single lost bytes that
    the profile would have noticed; `no_unit` whether the records named no unit, so that its own was taken.
    """

    profile: str
    readings: tuple[Reading, ...]
    refused: int
    explained: float
    strict: float
    no_unit: bool
    asked: bool

    @property
    def told(self) -> tuple[tuple[str, str], ...]:
        """What was read, as text."""
        return tuple((str(item.value), item.unit) for item in self.readings)


@dataclass(frozen=True, slots=True)
class Finding:
    """What the bytes say: the profile that fits best (None for none), whether that is sure, and why not.

    `equals` read the same; `others` fit as well and read something else, so the bytes cannot tell.
    """

    best: Fit | None
    sure: bool
    equals: tuple[Fit, ...]
    others: tuple[Fit, ...]
    heard: int

    @property
    def doubts(self) -> list[str]:
        """What is not sure, in sentences."""
        if self.best is None:
            return [_NOTHING if not self.heard else _UNKNOWN.format(self.heard)]
        told = []
        if len(self.best.readings) < ENOUGH:
            told.append("Only one reading was heard: press the button again, on another size.")
        elif len(set(self.best.told)) == 1:
            told.append("All readings were the same: press again on another size to be surer.")
        if self.best.explained < EXPLAINED:
            told.append(f"Only {100 * self.best.explained:.0f} % of the bytes could be read by it.")
        if self.equals:
            names = ", ".join(item.profile for item in self.equals)
            told.append(
                f"These bytes cannot tell it from {names}, which read them alike; "
                f"{self.best.profile} is taken because {_reason(self.best, self.equals)}."
            )
        for item in self.others:
            value, unit = item.told[-1]
            told.append(
                f"{item.profile} fits as well and reads the last as {value} {unit}: compare with the display."
            )
        if self.best.no_unit:
            unit = self.best.readings[-1].unit
            told.append(
                f"The records name no unit: they are taken as {unit}. If the display showed another, set "
                "`unit` in a copy of the profile."
            )
        return told


_NOTHING = (
    "Nothing was heard: press the button that sends a reading; check cable, battery and url. An instrument "
    "that only answers when asked needs --ask."
)
_UNKNOWN = (
    "{} bytes were heard and no profile reads them: see them with `dryfit caliper listen`, and write a "
    "profile from the instrument's manual."
)


def _reason(best: Fit, equals: Sequence[Fit]) -> str:
    if best.strict > max(item.strict for item in equals) + 1e-9:
        return "it notices more damage"
    return "it answers when asked" if best.asked else "the instrument sent without being asked"


def find(raw: bytes, profiles: Mapping[str, Profile], asked: bool = False) -> Finding:
    """The profile that fits the bytes `raw`, of those given by name.

    Preferred is the one that explains most of the bytes, then the strictest, then one that was asked or not
    as the bytes were. It is sure where two or more readings explain nine tenths of the bytes and no other
    profile reads something else as well.
    """
    fits = [fit for name, profile in profiles.items() if (fit := _fit(name, profile, raw)) is not None]
    if not fits:
        return Finding(None, False, (), (), len(raw))
    fits.sort(
        key=lambda fit: (-round(fit.explained, 2), -round(fit.strict, 2), fit.asked != asked, fit.profile)
    )
    best, *rest = fits
    as_good = [fit for fit in rest if fit.explained >= best.explained - 0.01]
    equals = tuple(fit for fit in as_good if _alike(fit, best))
    others = tuple(fit for fit in as_good if not _alike(fit, best))
    sure = len(best.readings) >= ENOUGH and best.explained >= EXPLAINED and not others
    return Finding(best, sure, equals, others, len(raw))


def _alike(one: Fit, other: Fit) -> bool:
    """Whether two read the same, but for a first record that was cut and only one of them read."""
    count = min(len(one.told), len(other.told))
    return abs(len(one.told) - len(other.told)) <= 1 and one.told[-count:] == other.told[-count:]


def _fit(name: str, profile: Profile, raw: bytes) -> Fit | None:
    decoder = Decoder(profile)
    got = decoder.feed(raw)
    readings = tuple(item for item in got if isinstance(item, Reading))
    if not readings:
        return None
    refused = [item for item in got if isinstance(item, BadRecord)]
    total = max(1, len(raw) - len(decoder.pending))
    whole = refused[1:] if refused and got[0] is refused[0] else refused
    unread = sum(len(item.raw) for item in whole)
    return Fit(
        name,
        readings,
        len(refused),
        max(0.0, 1 - unread / total),
        _strictness(profile, raw[:DAMAGED]),
        _names_no_unit(profile, readings),
        bool(profile.request),
    )


def _strictness(profile: Profile, raw: bytes) -> float:
    """The share of single lost bytes after which fewer records are read."""
    whole = _count(profile, raw)
    if not whole:
        return 0.0
    noticed = sum(_count(profile, raw[:place] + raw[place + 1 :]) < whole for place in range(len(raw)))
    return noticed / len(raw)


def _count(profile: Profile, raw: bytes) -> int:
    return sum(isinstance(item, Reading) for item in Decoder(profile).feed(raw))


def _names_no_unit(profile: Profile, readings: Sequence[Reading]) -> bool:
    layout = profile.layout
    if not isinstance(layout, TextLayout) or len(profile.step) < 2:
        return False
    found = [layout.pattern.fullmatch(item.raw) for item in readings if isinstance(item.raw, bytes)]
    return any(match is not None and match.group("unit") is None for match in found)
