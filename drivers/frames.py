"""Bytes from an instrument to readings, by profile; and the bytes an instrument would send."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from importlib import resources
from pathlib import Path

from drivers.bcd import BcdFrame
from drivers.binary import BinaryFrame
from drivers.errors import DriverError, ProfileError
from drivers.framed_records import FramedRecords
from drivers.profile import BcdLayout, Profile, TextLayout
from drivers.profile_file import read_profile
from drivers.reading import BadRecord, Reading, Unit
from drivers.text_records import TextRecords, write_text

__all__ = ["BadRecord", "Decoder", "Profile", "Reading", "encode", "load_profile", "profiles"]


def profiles() -> list[str]:
    """The names of the shipped profiles, sorted."""
    return sorted(entry.name[:-5] for entry in _folder().iterdir() if entry.name.endswith(".toml"))


def load_profile(name: str | Path) -> Profile:
    """Load a shipped profile by name, or any other by the path of its TOML file.

    ProfileError lists every problem at once; the examples in the file are decoded and must read as told.
    """
    path = Path(name)
    if path.suffix != ".toml":
        if str(name) not in profiles():
            raise ProfileError([f"no profile is called {str(name)!r}; shipped: {', '.join(profiles())}"])
        path = Path(str(_folder() / f"{name}.toml"))
    profile = read_profile(path)
    problems = _check_examples(profile, path.name)
    if problems:
        raise ProfileError(problems)
    return profile


class Decoder:
    """A pure machine from bytes to readings and bad records.

    Any chunking of the same bytes gives the same list; no bytes make it raise; it keeps at most one
    record between calls. After noise it finds the next record by its terminator or header.
    """

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self._records = _machine(profile)

    @property
    def pending(self) -> bytes:
        """What has been received of a record that has not ended yet."""
        return self._records.pending

    def feed(self, data: bytes, at: datetime | None = None) -> list[Reading | BadRecord]:
        """Take the next bytes; give every record that ends in them, stamped with `at`."""
        return self._records.feed(bytes(data), at)

    def distrust(self, why: str = "the line was opened in the middle of it") -> None:
        """Refuse the text record now under way, because its beginning may be missing."""
        self._records.distrust(why)

    def flush(
        self, why: str = "the line ended in the middle of it", at: datetime | None = None
    ) -> list[BadRecord]:
        """Drop a record that will not be completed (reconnect, end of file); it is never read."""
        return self._records.drop(why, at)


def encode(profile: Profile, value: Decimal, unit: Unit | None = None) -> bytes:
    """The record an instrument of this profile sends for `value`; the inverse of decoding.

    DriverError where the value is not plausible for the profile, not a whole number of its steps,
    or in a unit it cannot send.
    """
    unit = unit or profile.unit
    if unit not in profile.step:
        raise DriverError(f"{profile.name} sends no {unit}; it sends {', '.join(profile.step)}")
    low, high = profile.limits[unit]
    if not value.is_finite() or not low <= value <= high:
        raise DriverError(f"{value} {unit} is outside {low} to {high}, which {profile.name} allows")
    if value % profile.step[unit]:
        raise DriverError(f"{value} {unit} is not a whole number of steps of {profile.step[unit]}")
    layout = profile.layout
    if isinstance(layout, TextLayout):
        return write_text(profile, layout, value, unit)
    frame = BcdFrame(profile, layout) if isinstance(layout, BcdLayout) else BinaryFrame(profile, layout)
    try:
        return frame.write(value, unit)
    except ValueError as error:
        raise DriverError(f"{profile.name}: {error}") from error


def _machine(profile: Profile) -> TextRecords | FramedRecords:
    layout = profile.layout
    if isinstance(layout, TextLayout):
        return TextRecords(profile, layout)
    frame = BcdFrame(profile, layout) if isinstance(layout, BcdLayout) else BinaryFrame(profile, layout)
    return FramedRecords(profile, frame.header, frame.size, frame.read)


def _check_examples(profile: Profile, place: str) -> list[str]:
    problems = []
    for number, example in enumerate(profile.examples, 1):
        decoder = Decoder(profile)
        got = decoder.feed(example.sent) + decoder.flush()
        read = [(each.value, each.unit) for each in got if isinstance(each, Reading)]
        wanted = [] if example.value is None else [(example.value, example.unit)]
        if read != wanted or (not wanted and not got):
            said = "; ".join(
                f"{each.value} {each.unit}" if isinstance(each, Reading) else each.why for each in got
            )
            problems.append(f"{place}: examples[{number}]: reads as: {said or 'nothing at all'}")
    return problems


def _folder() -> resources.abc.Traversable:
    return resources.files("drivers") / "profiles"
