"""Everything that can go wrong in `drivers`, as one tree.

DriverError (a ValueError)
    LengthError     typed text is not a length, an angle or a percentage
    ProfileError    an instrument profile cannot be used; lists every problem at once
    LineError       a serial line is not there, is busy, is closed to us, or was lost

A bad record from an instrument is none of these: it is a `BadRecord`, and reading goes on.
"""

from __future__ import annotations

from collections.abc import Sequence


class DriverError(ValueError):
    """Base of all errors of this package; never raised itself."""


class LengthError(DriverError):
    """Text that was typed does not say a length, an angle or a percentage."""


class ProfileError(DriverError):
    """An instrument profile cannot be used; `problems` holds every reason, each with its place."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


class LineError(DriverError):
    """A serial line cannot be opened or written to; the message says what to do."""
