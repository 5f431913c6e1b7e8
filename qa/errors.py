"""The errors of qa.

QaError                 base; never raised itself
├── PlanError           a plan that cannot be used; carries every problem at once
├── LogError            a log that cannot be loaded; carries every problem at once
├── ShopError           a shop folder, shop.toml, or a name the shop does not know
│   ├── PlanChanged     a plan's file that is another by now than the one that was opened
│   └── WhichModel      a build not begun, and the shop has no plan, or plans of several models
├── StoreError          a store that is read-only, locked, full or from a newer version
│   ├── RowRefused      a row that the store can never take, whatever state it is in
│   └── ServerGone      a database server that cannot be reached; what was not stored may be tried again
│       └── ServerBusy  one that lets nobody else write for too long
└── CannotSay           a question the numbers given cannot answer

A part out of tolerance is a value, never an error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qa.wording import shortened


class QaError(ValueError):
    """Base of every error of qa; a message says what is wrong, where, and what to do."""


class CannotSay(QaError):  # noqa: N818 - reads as the answer it is
    """Raised where the numbers given cannot answer the question (collinear stations, too few builds)."""


class ShopError(QaError):
    """Raised where a shop folder, its shop.toml, or a name asked for cannot be used."""


class PlanChanged(ShopError):  # noqa: N818 - says what happened
    """Raised where a plan's file was changed since it was opened, so that saving would lose that change."""


class WhichModel(ShopError):  # noqa: N818 - asks what is to be said
    """Raised where a build is not begun and the shop's plans alone do not tell its model."""


class StoreError(QaError):
    """Raised where a store is read-only, locked, full, damaged or from a newer version."""


class RowRefused(StoreError):  # noqa: N818 - says what happened
    """Raised where a row itself is what the store cannot take, so that trying again is of no use."""


class ServerGone(StoreError):  # noqa: N818 - says what happened
    """Raised where the database server cannot be reached, or went away before it had answered."""


class ServerBusy(ServerGone):
    """Raised where another program keeps the database server from writing for too long."""


@dataclass(frozen=True, slots=True)
class PlanProblem:
    """One fault of a plan or of shop.toml: the file, its line where known, the key, and why."""

    file: str
    line: int | None
    key: str
    why: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        return f"{place}: {self.key}: {self.why}" if self.key else f"{place}: {self.why}"


@dataclass(frozen=True, slots=True)
class LogProblem:
    """One fault of a log: file, row (the header is row 1), column, the value found, and why."""

    file: str
    row: int | None
    column: str
    value: str
    why: str

    def __str__(self) -> str:
        row = "" if self.row is None else f", row {self.row}"
        column = f", {shortened(self.column)}" if self.column else ""
        found = f" {shortened(self.value)!r}" if self.value else ""
        return f"{self.file}{row}{column}{found}: {self.why}"


class PlanError(QaError):
    """Raised with every problem of one or more plans at once, in `.problems`."""

    def __init__(self, problems: Sequence[PlanProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))


class LogError(QaError):
    """Raised with every problem of one or more logs at once, in `.problems`."""

    def __init__(self, problems: Sequence[LogProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))
